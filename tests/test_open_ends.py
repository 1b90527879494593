"""`fibrebook open` as real processes: however it ends, no server and no kernel stays behind."""

from __future__ import annotations

import importlib.util
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
from pathlib import Path

import psutil
import pytest

import fibrebook
from fibrebook.cli.serving_pages import serving

_spec = importlib.util.spec_from_file_location("served", Path(__file__).parent / "browser" / "served.py")
assert _spec and _spec.loader
served = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(served)

WITHIN_S = 30
SMALL = {
    "cells": [
        {"cell_type": "code", "execution_count": None, "metadata": {}, "outputs": [], "source": "1", "id": "one"}
    ],
    "metadata": {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}},
    "nbformat": 4,
    "nbformat_minor": 5,
}
LONG = pytest.mark.long


@pytest.mark.skipif(os.name == "nt", reason="these are the signals of other systems")
@pytest.mark.parametrize(
    ("words", "how"),
    [
        pytest.param(("--notebooks",), signal.SIGTERM, marks=LONG),
        pytest.param(("--notebooks",), signal.SIGHUP, marks=LONG),
        pytest.param(("--notebooks",), signal.SIGINT, marks=LONG),
        pytest.param(("--notebooks",), signal.SIGKILL, marks=LONG),
        ((), signal.SIGINT),
        pytest.param(("--pages",), signal.SIGINT, marks=LONG),
        pytest.param(("--pages",), signal.SIGTERM, marks=LONG),
        pytest.param(("--pages",), signal.SIGHUP, marks=LONG),
        (("--pages",), signal.SIGKILL),
    ],
    ids=lambda v: v.name if isinstance(v, signal.Signals) else "".join(v) or "front page",
)
def test_nothing_stays_behind(tmp_path: Path, words: tuple[str, ...], how: signal.Signals) -> None:
    """Asked to end, interrupted, its terminal closed, or killed: the server ends, and with it the kernel it started."""
    fibrebook.create(tmp_path / "register")
    folder = tmp_path / "notebooks"
    folder.mkdir()
    (folder / "small.ipynb").write_text(json.dumps(SMALL), encoding="utf-8")
    with served.served(tmp_path / "register", folder, *words) as running:
        if words == ("--notebooks",):
            running.ask("api/kernels", "POST")
        else:
            running.ask("voila/render/small.ipynb" if words else "")
        below = running.below()
        assert running.kernels()
        running.process.send_signal(how)
        end = time.monotonic() + WITHIN_S
        while time.monotonic() < end and (left := [p for p in below if _runs(p)]):
            time.sleep(0.1)
        assert not left, [p.cmdline() for p in left if _runs(p)]
        assert running.process.wait(WITHIN_S) == (-how if how == signal.SIGKILL else 0)


def test_pages_are_few_and_left_ones_are_ended(tmp_path: Path) -> None:
    """Beyond as many as may be, a page is refused in words; a kernel whose page was never heard of is ended by itself."""
    (tmp_path / "small.ipynb").write_text(json.dumps(SMALL), encoding="utf-8")
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        port = s.getsockname()[1]
    culled = ["--MappingKernelManager.cull_idle_timeout=3", "--MappingKernelManager.cull_interval=1"]
    words = [
        "pages",
        "--no-browser",
        "--Voila.ip=127.0.0.1",
        f"--port={port}",
        "--Pages.most=1",
        *culled,
        str(tmp_path),
    ]
    process = subprocess.Popen(
        [sys.executable, "-m", "fibrebook.cli.serving_pages.serving", *words], stdin=subprocess.PIPE, text=True
    )
    try:
        running = served.Served(process, f"http://127.0.0.1:{port}/")
        running.ask("voila/render/small.ipynb")
        assert len(running.kernels()) == 1
        with pytest.raises(urllib.error.HTTPError) as refused:
            running.ask("voila/render/small.ipynb")
        assert refused.value.code == 503
        assert "1 page(s) are open" in refused.value.read().decode()
        end = time.monotonic() + WITHIN_S
        while running.kernels():
            assert time.monotonic() < end, "the kernel is still there"
            time.sleep(0.2)
        while True:  # its place is free as soon as the server has put it away
            try:
                running.ask("voila/render/small.ipynb")
                break
            except urllib.error.HTTPError as full:
                assert full.code == 503 and time.monotonic() < end
                time.sleep(0.2)
    finally:
        serving.end(process)
    assert not psutil.pid_exists(process.pid)


def _runs(process: psutil.Process) -> bool:
    try:
        return process.is_running() and process.status() != psutil.STATUS_ZOMBIE
    except psutil.Error:
        return False
