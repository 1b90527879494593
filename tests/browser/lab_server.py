"""Start JupyterLab on a free port of this machine, with settings of its own, and stop it at the end."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path


def _free_port() -> int:
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


def _wait(url: str, process: subprocess.Popen[bytes], log: Path, limit_s: float = 90) -> None:
    end = time.monotonic() + limit_s
    while time.monotonic() < end:
        if process.poll() is not None:
            raise RuntimeError(f"JupyterLab ended with code {process.returncode}:\n{log.read_text()[-2000:]}")
        try:
            with urllib.request.urlopen(url, timeout=2) as answer:
                if answer.status == 200:
                    return
        except OSError:
            time.sleep(0.1)
    raise TimeoutError(f"{url} gave no answer in {limit_s} s:\n{log.read_text()[-2000:]}")


@contextlib.contextmanager
def lab(root: Path, home: Path | None = None, theme: str = "JupyterLab Light", **env: str) -> Iterator[str]:
    """Serve the notebooks in `root`; give the server's address. `env` is what the kernels see besides."""
    home = home or Path(tempfile.mkdtemp(prefix="lab-"))
    names = {
        "JUPYTER_CONFIG_DIR": "config", "JUPYTER_DATA_DIR": "data", "JUPYTER_RUNTIME_DIR": "runtime",
        "IPYTHONDIR": "ipython", "JUPYTERLAB_SETTINGS_DIR": "settings", "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
    }  # fmt: skip
    settings = home / "settings" / "@jupyterlab" / "apputils-extension"
    settings.mkdir(parents=True, exist_ok=True)
    # the question about news would cover the lower right corner
    quiet = {"fetchNews": "false", "checkForUpdates": False}
    (settings / "notification.jupyterlab-settings").write_text(json.dumps(quiet))
    (settings / "themes.jupyterlab-settings").write_text(json.dumps({"theme": theme, "adaptive-theme": False}))
    port = _free_port()
    base = f"http://127.0.0.1:{port}"
    command = [
        sys.executable, "-m", "jupyterlab", "--no-browser", "--ip=127.0.0.1", f"--port={port}",
        f"--ServerApp.root_dir={root}", "--IdentityProvider.token=", "--ServerApp.password=",
        "--ServerApp.disable_check_xsrf=True", "--ServerApp.port_retries=0", "--LabApp.news_url=None",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate", "--LabApp.expose_app_in_browser=True",
    ]  # fmt: skip
    if hasattr(os, "getuid") and os.getuid() == 0:
        command.append("--allow-root")
    log = home / "lab.log"
    with log.open("wb") as out:
        process = subprocess.Popen(
            command,
            stdout=out,
            stderr=subprocess.STDOUT,
            env={**os.environ, **{n: str(home / f) for n, f in names.items()}, **env},
        )
        try:
            _wait(f"{base}/api/status", process, log)
            yield base
        finally:
            process.terminate()
            try:
                process.wait(15)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
