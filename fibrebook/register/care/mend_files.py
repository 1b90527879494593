"""Mending files of rows, of history, photos and kept edits: by their digests, or worked out again from the history."""

from __future__ import annotations

import re

import pyarrow as pa
import pyarrow.parquet as pq

from fibrebook.errors import FibrebookError
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.register.care.rebuild import rebuilt_changes, rebuilt_segment
from fibrebook.register.commits.history_index import FOLDER as INDEX
from fibrebook.register.commits.proposal import Store
from fibrebook.register.places.asked import Missing
from fibrebook.register.proof.damage import MISSING, Damage
from fibrebook.register.proof.evidence import Evidence, read_or_none
from fibrebook.register.proof.turned_bit import turned_back_by_itself
from fibrebook.register.store.shape import pending_faults
from fibrebook.register.store.state import FileRef, Json, digest, digest_checked

CANNOT = "cannot be mended"
Place = tuple[int, str, str, Json]  # commit, table, segment ("" for a history file), what the commit says of the file


class DataFiles:
    """The files of a register that are no commits.

    Attributes
    ----------
    renewed : files that were worked out again in other bytes, to be named by a commit
    """

    def __init__(self, store: Store, evidence: Evidence, whole: bool) -> None:
        self.store = store
        self.evidence = evidence
        self.whole = whole  # the chain of commits: else what no commit names may be of one that is lost
        self.renewed: dict[str, FileRef] = {}
        self._named: dict[str, Place] | None = None

    def mend(self, file: str, what: str) -> str:
        """Mend one file; return how."""
        folder = file.partition("/")[0]
        if folder == "pending":
            return self._kept_edit(file, what)
        if folder == "photos":
            return self._photo(file, what)
        if folder == INDEX:
            self.store.blobs.delete(file)
            return "removed: it is derived, and made again when the history is next asked for"
        if folder not in ("tables", "changes"):
            return f"{CANNOT}: {what}; look at it, then restore it from a backup or move it away"
        taker = self._may_have_been_taken_away() if what == MISSING else ""
        if taker:
            return (
                f"{CANNOT}: {taker} lies here, and no commit names it. A tidying or redaction that is lost may have "
                "taken this file away: restore the newest commits (mend --source); if nothing was tidied or redacted, "
                f"move {taker} out of the register"
            )
        place = self._named_by(file)
        return self._leftover(file, what) if place is None else self._named_file(file, place)

    def lost_photos(self) -> list[Damage]:
        """Return the photos that records name and that are not here."""
        if "photos" not in KINDS or "file" not in KINDS["photos"].names:
            return []
        log = self.store.log
        try:
            rows = self.store.reader.rows(log.state(log.newest()), KINDS["photos"])
        except FibrebookError:
            return []
        here = set(self.store.blobs.list("photos"))
        names = {n for n in rows["file"].to_pylist() if n and re.fullmatch(r"[0-9a-f]{16,64}\.[a-z]{3,4}", n)}
        return [Damage(MISSING, f"photos/{n}", "photos") for n in sorted(names - here)]

    def _put(self, file: str, data: bytes) -> None:
        self.store.blobs.replace(file, data)

    def _may_have_been_taken_away(self) -> str:
        """Return a history file of a lost commit that may have taken files away: it changed no record, or redacted."""
        newest = self.store.log.newest()
        for name in self.store.blobs.list("changes"):
            if not name[:8].isdecimal() or int(name[:8]) <= newest:
                continue
            try:
                rows = pq.read_table(pa.BufferReader(self.store.blobs.read(f"changes/{name}")), columns=["op"])
            except (FibrebookError, Missing, pa.ArrowException, OSError):
                return f"changes/{name}"
            if not rows.num_rows or "redacted" in rows["op"].to_pylist():
                return f"changes/{name}"
        return ""

    def _named_file(self, file: str, place: Place) -> str:
        number, table, segment, ref = place
        found = self.evidence.find(ref["sha256"], file)
        if found is not None:
            self._put(file, found[0])
            return found[1]
        try:
            made = (
                rebuilt_segment(self.store, table, segment, number, ref["rows"])
                if table
                else rebuilt_changes(self.store, number, ref["rows"])
            )
        except FibrebookError as error:
            return f"{CANNOT}: {error.message}"
        if made is None:
            return f"{CANNOT} from the history, which lacks what it needs: restore it from a backup or another copy"
        data, new = made
        if new.sha256 == ref["sha256"]:
            self._put(file, data)
            return "worked out again from the history, to the last bit"
        self.store.blobs.delete(file)
        if not self.store.blobs.exists(new.file):
            self.store.blobs.create(new.file, data)
        self.renewed[file] = new
        return "worked out again from the history (the same rows in other bytes)"

    def _leftover(self, file: str, what: str) -> str:
        if what == MISSING:
            return f"{CANNOT}: the commit that names it is not sound"
        if not self.whole:
            return f"{CANNOT} before the commits are whole: one that is lost may name it"
        self.store.blobs.delete(file)
        return "removed: no commit names it (kept in replaced/ until the next tidy)"

    def _photo(self, file: str, what: str) -> str:
        stem = file.partition("/")[2].partition(".")[0]
        whole = self.evidence.find(stem, file) if len(stem) == 64 else None
        data = read_or_none(self.evidence.source, file)
        if whole is None and data is not None and digest(data).startswith(stem):
            whole = data, "taken from the other copy"
        if whole is None:
            return f"{CANNOT}: {what}; restore it from a backup or another copy (mend --source)"
        self._put(file, whole[0])
        return whole[1]

    def _kept_edit(self, file: str, what: str) -> str:
        """Mend a kept edit; a copy from before a redaction would bring back what was taken out."""
        here, there = read_or_none(self.store.blobs, file), read_or_none(self.evidence.source, file)
        back = None if here is None else turned_back_by_itself(here)
        for data, how in ((back, "one bit had turned and was turned back"), (there, "taken from the other copy")):
            content = None if data is None else digest_checked(data)
            if data is None or content is None or pending_faults(content):
                continue
            if data is there and self._redacted_since(content["kept_utc"]):
                return f"{CANNOT}: the other copy's is from before personal data was taken out"
            self._put(file, data)
            return how
        return f"{CANNOT}: {what}; nothing else in the register depends on it"

    def _redacted_since(self, time_utc: str) -> bool:
        log = self.store.log
        return any("redacted" in c and c["time_utc"] >= time_utc for c in log.replacing())

    def _named_by(self, file: str) -> Place | None:
        """Return the first commit that names a file, with table and segment and what it says of it."""
        if self._named is None:
            self._named = {}
            for number in range(1, self.store.log.newest() + 1):
                self._names_of(number, self._named)
        return self._named.get(file)

    def _names_of(self, number: int, named: dict[str, Place]) -> None:
        try:
            content = self.store.log.commit(number)
        except FibrebookError:
            return
        for table, files in content["segments"].items():
            for segment, ref in files.items():
                if ref:
                    named.setdefault(ref["file"], (number, table, segment, ref))
        named.setdefault(content["changes"]["file"], (number, "", "", content["changes"]))
        for old, ref in (content.get("replaced") or {}).items():
            if ref and old in named:
                named.setdefault(ref["file"], (*named[old][:3], ref))
