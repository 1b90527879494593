"""Mending: putting back what the history, or another copy of the register, still holds.

A lost or damaged segment is worked out again from an earlier or later state and the changes between; a commit file in
which one bit has turned is found by its digest; anything may be taken from a sound copy. What cannot be had is named.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fibrebook.errors import FibrebookError
from fibrebook.register.edit import said
from fibrebook.register.files import Blobs, Missing
from fibrebook.register.forks import merge_forks, numbers_elsewhere
from fibrebook.register.log import HEAD, Log
from fibrebook.register.proposal import Store
from fibrebook.register.rebuild import rebuilt_changes, rebuilt_segment
from fibrebook.register.segments import Reader
from fibrebook.register.special import last_named, replace_files, sweep
from fibrebook.register.state import FileRef, Json, commit_path, digest, unsigned
from fibrebook.register.verify import MISSING, UNREADABLE, verify

if TYPE_CHECKING:
    import pandas as pd

BITS_BY_DIGEST, BITS_BY_CONTENT = 32_768, 8_192  # largest file, in bytes, in which a turned bit is looked for
CANNOT = "cannot be mended"


@dataclass(frozen=True, slots=True)
class Mended:
    """What became of one damaged file; `how` begins with "cannot be mended" where nothing could be done."""

    file: str
    what: str
    how: str

    @property
    def ok(self) -> bool:
        """Whether it is sound again."""
        return not self.how.startswith(CANNOT)


def mend(blobs: Blobs, by: str, why: str, source: Blobs | None = None) -> list[Mended]:
    """Mend what can be mended; return one line for each thing that was found.

    Parameters
    ----------
    source : another copy of the same register (a backup, a copy taken away) to take sound files from
    """
    by, why = said(by, "by", "your initials"), said(why, "why", "a few words on what for")
    out: list[Mended] = []
    _log_files(blobs, source, out)
    broken = {m.file for m in out if not m.ok}
    if HEAD in broken:
        return out
    if not broken:
        for file, how in merge_forks(_store(blobs), by, why):
            out.append(Mended(file, "two people's saves side by side", how))
    store = _store(blobs)
    sweep(store) if not broken else None
    told = {m.file for m in out}
    renewed: dict[str, FileRef] = {}
    for damage in verify(blobs):
        if damage.file not in told:
            out.append(Mended(damage.file, damage.what, _data_file(store, source, damage.file, renewed, damage.what)))
    if renewed:
        replace_files(store, by, why, "mend", lambda newest: (renewed, None), {"mended": sorted(renewed)})
    return out


def _store(blobs: Blobs) -> Store:
    log = Log(blobs, quiet=True)
    return Store(blobs, log, Reader(blobs, log))


def _put(blobs: Blobs, path: str, data: bytes) -> None:
    blobs.delete(path)
    blobs.create(path, data)


def _log_files(blobs: Blobs, source: Blobs | None, out: list[Mended]) -> None:
    """Put register.json and the commit files right."""
    misplaced = {commit_path(n) for n in numbers_elsewhere(blobs)}
    for damage in [d for d in verify(blobs) if d.file == HEAD or d.file.startswith("commits/0")]:
        if damage.file in {m.file for m in out} or damage.what not in (MISSING, UNREADABLE):
            continue
        if damage.what == MISSING and damage.file in misplaced:
            continue  # is put into its place together with the rest of its chain
        wanted = _digest_wanted(blobs, damage.file)
        right: Callable[[bytes], bool] = (
            (lambda d, w=wanted: digest(d) == w) if wanted else (lambda d: unsigned(d) is not None)  # type: ignore[misc]
        )
        how, data = "taken from the other copy", _from(source, damage.file, right)
        if data is None and damage.what != MISSING:
            how = "one bit had turned and was turned back"
            data = turned_back(_read(blobs, damage.file), right, bool(wanted))
        if data is None:
            remedy = f"{CANNOT} from here: restore it from a backup or another copy"
            out.append(Mended(damage.file, damage.what, remedy))
            continue
        _put(blobs, damage.file, data)
        out.append(Mended(damage.file, damage.what, how))


def _digest_wanted(blobs: Blobs, file: str) -> str:
    """Return the digest that the next commit says this file has, "" where it cannot be told."""
    number = 0 if file == HEAD else int(file[8:16])
    try:
        after = unsigned(blobs.read(f"commits/{number + 1:08d}.json"))
    except (Missing, OSError, FibrebookError):
        return ""
    return str(after["previous_digest"]) if after else ""


def _read(blobs: Blobs, file: str) -> bytes:
    try:
        return blobs.read(file)
    except (Missing, FibrebookError):
        return b""


def _from(source: Blobs | None, file: str, right: Callable[[bytes], bool]) -> bytes | None:
    if source is None:
        return None
    data = _read(source, file)
    return data if data and right(data) else None


def turned_back(data: bytes, right: Callable[[bytes], bool], by_digest: bool) -> bytes | None:
    """Return the bytes with the one bit turned back that makes them right; None where that is not all."""
    if len(data) > (BITS_BY_DIGEST if by_digest else BITS_BY_CONTENT):
        return None
    attempt = bytearray(data)
    for place in range(len(data)):
        for bit in range(8):
            attempt[place] ^= 1 << bit
            if right(bytes(attempt)):
                return bytes(attempt)
            attempt[place] ^= 1 << bit
    return None


def _data_file(store: Store, source: Blobs | None, file: str, renewed: dict[str, FileRef], what: str) -> str:
    """Mend one file that is no commit; return how."""
    folder = file.partition("/")[0]
    if folder not in ("tables", "changes"):
        data = _from(source, file, lambda d: unsigned(d) is not None) if folder == "pending" else None
        if data is None:
            return f"{CANNOT}: {what}; nothing else in the register depends on it"
        _put(store.blobs, file, data)
        return "taken from the other copy"
    place = _named(store, file)
    if place is None:
        last = last_named(store)
        if file in last:
            return f"{CANNOT}: the commit that names it is not sound"
        store.blobs.delete(file)
        return "removed: no commit names it"
    number, table, segment, ref = place
    data = _from(source, file, lambda d: digest(d) == ref["sha256"])
    if data is not None:
        _put(store.blobs, file, data)
        return "taken from the other copy"
    try:
        made = rebuilt_segment(store, table, segment, number) if table else rebuilt_changes(store, number, ref["rows"])
    except FibrebookError as error:
        return f"{CANNOT}: {error.message}"
    if made is None:
        return f"{CANNOT} from the history, which lacks what it needs: restore it from a backup or another copy"
    data, new = made
    store.blobs.delete(file)
    store.blobs.create(new.file, data)
    if new.sha256 == ref["sha256"]:
        return "worked out again from the history, to the last bit"
    renewed[file] = new
    return "worked out again from the history (the same rows in other bytes)"


def _named(store: Store, file: str) -> tuple[int, str, str, Json] | None:
    """Return the first commit that names a file, with table and segment ("" for a history file) and what it says."""
    for number in range(1, store.log.newest() + 1):
        try:
            content = store.log.commit(number)
        except FibrebookError:
            continue
        for table, files in content["segments"].items():
            for segment, ref in files.items():
                if ref and ref["file"] == file:
                    return number, table, segment, ref
        if content["changes"]["file"] == file:
            return number, "", "", content["changes"]
        for old, ref in (content.get("replaced") or {}).items():
            if ref and ref["file"] == file:
                found = _named(store, old)
                return None if found is None else (*found[:3], ref)
    return None


def to_frame(found: list[Mended]) -> pd.DataFrame:
    """Return one row a file: file, what, how, ok."""
    import pandas as pd

    rows = [(m.file, m.what, m.how, m.ok) for m in found]
    return pd.DataFrame(rows, columns=["file", "what", "how", "ok"])
