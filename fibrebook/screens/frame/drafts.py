"""What was typed and not yet saved, kept on this machine so that a kernel that ends loses nothing.

Files lie in the folder FIBREBOOK_DRAFTS names, else in the user's data folder; each is replaced whole or not at all.
Beside a draft lies a small file that says which screen holds it; its time is when that screen's page was last heard of.
A page that is gone is heard of no more, whether or not its kernel lives on: then the draft waits for whoever takes it.
"""

from __future__ import annotations

import atexit
import contextlib
import datetime as dt
import json
import os
import time
import uuid
import weakref
from pathlib import Path
from typing import Any

from platformdirs import user_data_path

from fibrebook.bounded_json import bounded_json
from fibrebook.errors import InputError
from fibrebook.regular_files import read_regular

Content = dict[str, Any]
MOST_BYTES = 50_000_000  # of one draft; a day's work has some thousands
GONE_S = 2.5  # a page that was not heard of for so long is gone; it is heard of every second


def folder() -> Path:
    """Return where drafts lie."""
    named = os.environ.get("FIBREBOOK_DRAFTS")
    return Path(named).expanduser() if named else user_data_path("fibrebook", appauthor=False) / "drafts"


class Draft:
    """One screen's unsaved work; `save` keeps it, `heard` says that its page is there, `forget` removes it.

    Attributes
    ----------
    held : False once another screen has taken it over; from then on nothing is kept by this one
    """

    def __init__(self, register_id: str, screen: str, path: Path | None = None) -> None:
        self.register_id, self.screen = register_id, screen
        self.path = path or folder() / f"{screen}-{uuid.uuid4().hex}.json"
        self.holder = uuid.uuid4().hex
        self.held = True
        self._heard = -GONE_S
        _HELD.add(self)

    @property
    def _mark(self) -> Path:
        return self.path.with_suffix(".held")

    def save(self, content: Content) -> None:
        """Keep the content; on the disk when this returns. Where another screen holds it by now: do nothing."""
        if not self.still_held():
            return
        kept = dt.datetime.now().isoformat(" ", "minutes")
        head = {"register": self.register_id, "screen": self.screen, "kept": kept}
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            _write(self.path, json.dumps({**head, "content": content}))
            if not self._mark.exists():
                self.hold()
        except OSError as error:
            raise InputError(
                f"what is typed cannot be kept in {self.path.parent} ({error.strerror or error}): save it soon, or let "
                "FIBREBOOK_DRAFTS name another folder"
            ) from error

    def still_held(self) -> bool:
        """Tell whether no other screen has taken it over."""
        if self.held and _holder(self.path) not in ("", self.holder):
            self.held = False
        return self.held

    def hold(self) -> None:
        """Say that this screen holds it, and whether its page was heard of lately."""
        _write(self._mark, self.holder)
        if time.monotonic() - self._heard > GONE_S:
            os.utime(self._mark, (0, 0))

    def heard(self) -> None:
        """Its page was heard of just now."""
        self._heard = time.monotonic()
        if self.path.exists() and self.still_held():
            with contextlib.suppress(OSError):  # a disk that is full: the page is believed gone, and no more
                self.hold() if not self._mark.exists() else os.utime(self._mark)

    def let_go(self) -> None:
        """Its page, or this process, is about to go: whoever wants it may have it."""
        self._heard = -GONE_S
        if _holder(self.path) == self.holder:
            with contextlib.suppress(OSError):
                self._mark.unlink(missing_ok=True)

    def forget(self) -> None:
        """Remove the draft: its work was saved or thrown away. One that another screen took over stays."""
        if self.still_held():
            for path in (self.path, self._mark):
                with contextlib.suppress(OSError):
                    path.unlink(missing_ok=True)


_HELD: weakref.WeakSet[Draft] = weakref.WeakSet()
_READ: dict[Path, tuple[tuple[int, int], Any]] = {}  # what was read of a file, by its time and size


@atexit.register
def _let_all_go() -> None:
    for draft in list(_HELD):
        draft.let_go()


def _write(path: Path, text: str) -> None:
    fresh = path.with_suffix(f"{path.suffix}-new")
    with fresh.open("w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    fresh.replace(path)


def _holder(path: Path) -> str:
    """Which screen holds a draft; "" = none."""
    try:
        return read_regular(path.with_suffix(".held"), 1_000).decode()[:64]
    except (OSError, ValueError):
        return ""


def page_is_there(path: Path) -> bool:
    """Tell whether the page of the screen that holds a draft was heard of just now."""
    try:
        return abs(time.time() - path.with_suffix(".held").stat().st_mtime) < GONE_S
    except OSError:
        return False


def begin(register_id: str, screen: str) -> Draft:
    """Return a new draft; its file is made with the first `save`."""
    return Draft(register_id, screen)


def kept(register_id: str, screen: str, but: Draft | None = None) -> list[tuple[Path, Content]]:
    """Return the drafts of a register's screens, the youngest first: (path, head and content)."""
    found = []
    for path in folder().glob(f"{screen}-*.json"):
        if but is not None and path == but.path:
            continue
        draft = _read(path)
        if isinstance(draft, dict) and draft.get("register") == register_id and isinstance(draft.get("content"), dict):
            found.append((path, draft))
    return sorted(found, key=lambda f: str(f[1].get("kept")), reverse=True)


def _read(path: Path) -> Any:
    try:
        about = path.stat()
        if about.st_size > MOST_BYTES:
            return None
        stamp = (about.st_mtime_ns, about.st_size)
        if path not in _READ or _READ[path][0] != stamp:
            _READ[path] = (stamp, bounded_json(read_regular(path, MOST_BYTES)))
        return _READ[path][1]
    except (OSError, ValueError, RecursionError):
        return None  # half a file, or another program's; not ours to remove


def waiting(register_id: str, screen: str, but: Draft | None = None) -> list[tuple[Path, Content]]:
    """Return those of `kept` that no page is typing in."""
    return [(path, draft) for path, draft in kept(register_id, screen, but) if not page_is_there(path)]


def take_over(path: Path, register_id: str, screen: str) -> Draft:
    """Go on with a draft under its own file; whoever held it before finds out and lets go.

    Raises
    ------
    InputError : it is not there any more, or the folder takes no files
    """
    if not path.exists():
        raise InputError("this draft is not there any more: it was saved, or thrown away, elsewhere")
    draft = Draft(register_id, screen, path)
    try:
        draft.hold()
    except OSError as error:
        raise InputError(f"the draft cannot be taken over: {error.strerror or error}") from error
    return draft
