"""`fibrebook open` as a process of its own: its address, its kernels, and that nothing of it stays behind."""

from __future__ import annotations

import contextlib
import json
import os
import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psutil

COMMAND = "import sys; from fibrebook.cli import main; sys.exit(main())"


class Served:
    """A running `fibrebook open`.

    Attributes
    ----------
    base, token : its address; what it asks for
    process : the process of the command
    """

    def __init__(self, process: subprocess.Popen[str], address: str) -> None:
        self.process = process
        parts = urlsplit(address)
        self.base, self.token = f"http://{parts.netloc}", parts.query.partition("token=")[2]

    def url(self, path: str) -> str:
        """An address with the token."""
        return f"{self.base}/{path}?token={self.token}"

    def ask(self, path: str, method: str = "GET") -> Any:
        """Ask the server's own interface."""
        request = urllib.request.Request(
            f"{self.base}/{path}", method=method, headers={"Authorization": f"token {self.token}"}
        )
        for _ in range(100):
            try:
                with urllib.request.urlopen(request, timeout=60) as answer:
                    text = answer.read().decode()
                break
            except urllib.error.URLError as error:  # its address is told a moment before it listens
                if not isinstance(error.reason, ConnectionRefusedError):
                    raise
                time.sleep(0.2)
        return json.loads(text) if text.startswith(("{", "[")) else text

    def below(self) -> list[psutil.Process]:
        """The server and its kernels."""
        return psutil.Process(self.process.pid).children(recursive=True)

    def kernels(self) -> list[psutil.Process]:
        """The kernels alone."""
        found = []
        for process in self.below():
            with contextlib.suppress(psutil.Error):
                if "ipykernel_launcher" in " ".join(process.cmdline()) and process.status() != psutil.STATUS_ZOMBIE:
                    found.append(process)
        return found


@contextlib.contextmanager
def served(register: Path, folder: Path, *words: str, **environment: str) -> Iterator[Served]:
    """Run `fibrebook open` with some words more; what it saw of registers lies beside its folder."""
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        port = s.getsockname()[1]
    asked = ["-r", str(register), "open", "--no-browser", f"--port={port}", "--folder", str(folder), *words]
    process = subprocess.Popen(
        [sys.executable, "-c", COMMAND, *asked],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        env={**os.environ, "FIBREBOOK_WITNESS": str(folder.parent / "seen"), **environment},
    )
    below: list[psutil.Process] = []
    try:
        assert process.stdout is not None
        lines: list[str] = []
        for line in process.stdout:
            lines.append(line)
            found = re.search(r"http://[^/\s]+/\S*token=\w+", line)
            if found:
                break
        else:
            raise AssertionError("no address was told:\n" + "".join(lines))
        below = psutil.Process(process.pid).children(recursive=True)
        yield Served(process, found[0].replace("localhost", "127.0.0.1"))
    finally:
        with contextlib.suppress(psutil.Error):
            below = [*below, *psutil.Process(process.pid).children(recursive=True)]
        for one in {*below}:
            with contextlib.suppress(psutil.Error):
                one.kill()
        process.kill()
        process.wait()
