"""Running the notebooks' server: it ends, with all its kernels, when `fibrebook open` ends, whatever ended that.

`serve` stands in the process that was called; `main` in the server's own. Between them lies a pipe on which nothing is
ever sent: when it closes, which it does however the first process ended, the second one ends itself.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from types import FrameType

import psutil

LAB, PAGES = "lab", "pages"
STOPPING_S = 15.0  # what a server may take to end its kernels properly
SIGNALS = ("SIGTERM", "SIGINT", "SIGHUP", "SIGBREAK")  # asked to end; Ctrl+C; the terminal was closed


def serve(what: str, arguments: Sequence[str], environment: Mapping[str, str]) -> int:
    """Run a server (LAB or PAGES) until it ends or this process is asked to end; return the exit code.

    Nothing of it is left when this returns: neither the server nor a kernel.
    """
    words = [sys.executable, "-m", "fibrebook.cli.serving_pages.serving", what, *arguments]
    # in a session of its own: Ctrl+C at the terminal comes to us alone, and we end it in order
    server = subprocess.Popen(words, env=dict(environment), stdin=subprocess.PIPE, start_new_session=True)
    asked = threading.Event()

    def stop(number: int, frame: FrameType | None) -> None:
        asked.set()

    before = {getattr(signal, n): signal.signal(getattr(signal, n), stop) for n in SIGNALS if hasattr(signal, n)}
    try:
        while server.poll() is None and not asked.wait(0.2):
            pass
        return 0 if asked.is_set() else server.returncode
    finally:
        end(server)
        for number, handler in before.items():
            signal.signal(number, handler)


def end(server: subprocess.Popen[bytes], within_s: float = STOPPING_S) -> None:
    """End a server and its kernels: by the closed pipe, and what is still there then by force."""
    left: list[psutil.Process] = []
    with contextlib.suppress(psutil.Error):
        left = psutil.Process(server.pid).children(recursive=True)
    assert server.stdin is not None
    with contextlib.suppress(OSError):
        server.stdin.close()
    try:
        server.wait(within_s)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()
    _kill(left)


def _kill(processes: Sequence[psutil.Process]) -> None:
    for process in processes:
        with contextlib.suppress(psutil.Error):
            process.kill()
    psutil.wait_procs(processes, timeout=5)


def _end_with_the_caller() -> None:
    """Wait until the pipe closes, then end this process as a server is ended; by force where it does not end."""
    while sys.stdin.buffer.read(1):
        pass
    if os.name == "nt":
        import _thread

        _thread.interrupt_main(signal.SIGTERM)
    else:
        os.kill(os.getpid(), signal.SIGTERM)
    threading.Event().wait(STOPPING_S - 3)
    _kill(psutil.Process().children(recursive=True))
    os._exit(1)


def main() -> None:
    """Be the server: the first argument says which, the others are its own."""
    what, *arguments = sys.argv[1:]
    threading.Thread(target=_end_with_the_caller, daemon=True).start()
    if what == PAGES:
        from fibrebook.cli.serving_pages.pages_server import Pages

        Pages.launch_instance(arguments)
    else:
        from jupyterlab.labapp import LabApp

        LabApp.launch_instance(arguments)


if __name__ == "__main__":
    main()
