"""What was typed and not yet saved, kept on this machine so that a kernel that ends loses nothing.

Files lie in the folder FIBREBOOK_DRAFTS names, else in the user's data folder; each is replaced whole or not at all.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import os
import uuid
from pathlib import Path
from typing import Any

import psutil
from platformdirs import user_data_path

from fibrebook.errors import InputError

Content = dict[str, Any]
MOST_BYTES = 50_000_000  # of one draft; a day's work has some thousands


def folder() -> Path:
    """Return where drafts lie."""
    named = os.environ.get("FIBREBOOK_DRAFTS")
    return Path(named).expanduser() if named else user_data_path("fibrebook", appauthor=False) / "drafts"


class Draft:
    """One screen's unsaved work; `save` keeps it, `forget` removes it."""

    def __init__(self, register_id: str, screen: str, path: Path | None = None) -> None:
        self.register_id, self.screen = register_id, screen
        self.path = path or folder() / f"{screen}-{uuid.uuid4().hex}.json"
        self.held = True

    def save(self, content: Content) -> None:
        """Keep the content; on the disk when this returns."""
        if not self.held:
            return  # taken over by a younger screen
        head = {
            "register": self.register_id, "screen": self.screen, "kept": dt.datetime.now().isoformat(" ", "minutes"),
            "process": _this_process(),
        }  # fmt: skip
        fresh = self.path.with_suffix(".new")
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with fresh.open("w", encoding="utf-8") as file:
                json.dump({**head, "content": content}, file)
                file.flush()
                os.fsync(file.fileno())
            fresh.replace(self.path)
        except OSError as error:
            raise InputError(
                f"what is typed cannot be kept in {self.path.parent} ({error.strerror or error}): save it soon, or let "
                "FIBREBOOK_DRAFTS name another folder"
            ) from error

    def forget(self) -> None:
        """Remove the draft: its work was saved or thrown away."""
        with contextlib.suppress(OSError):
            self.path.unlink(missing_ok=True)


def _this_process() -> list[float]:
    process = psutil.Process()
    return [process.pid, process.create_time()]


_OPEN: dict[Path, Draft] = {}  # drafts of this process's own screens


def begin(register_id: str, screen: str) -> Draft:
    """Return a new draft; its file is made with the first `save`."""
    draft = Draft(register_id, screen)
    _OPEN[draft.path] = draft
    return draft


def waiting(register_id: str, screen: str, but: Draft | None = None) -> list[tuple[Path, Content]]:
    """Return the drafts that no other living process is typing in, the youngest first: (path, head and content)."""
    found = []
    for path in folder().glob(f"{screen}-*.json"):
        try:
            if path.stat().st_size > MOST_BYTES:
                continue
            kept = json.loads(path.read_text(encoding="utf-8"))
            theirs = kept["register"] == register_id and (but is None or path != but.path)
            if theirs and isinstance(kept["content"], dict) and not _typed_in(kept["process"]):
                found.append((path, kept))
        except (OSError, ValueError, LookupError, TypeError, OverflowError, RecursionError):
            continue  # half a file, or another program's; not ours to remove
    return sorted(found, key=lambda f: str(f[1].get("kept")), reverse=True)


def _typed_in(process: list[float]) -> bool:
    pid, started = int(process[0]), process[1]
    if pid == os.getpid():
        return False  # an older screen of this kernel: the younger one may take its work over
    try:
        return abs(psutil.Process(pid).create_time() - started) < 1
    except psutil.Error:
        return False


def take_over(path: Path, register_id: str, screen: str) -> Draft:
    """Go on with a draft under its own file; an older screen of this kernel lets go of it."""
    older = _OPEN.get(path)
    if older is not None:
        older.held = False
    draft = _OPEN[path] = Draft(register_id, screen, path)
    return draft
