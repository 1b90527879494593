"""One pack: many old files of a register in one, as a ZIP archive that any other tool unpacks into the same files.

Its name tells what it holds and the digest of its own bytes: `packs/commits-00000001-00000512-<digest>.zip`.
Source of the format: ISO/IEC 21320-1 (ZIP, deflated; no encryption, no links), by the standard library's zipfile.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from fibrebook.errors import DamagedError

FOLDER = "packs"
KINDS = ("commits", "changes")
MOST_SPAN = 4096  # commits from the first to the last of a pack
MOST_UNPACKED = 250_000_000  # bytes of all its files
MOST_AT_ONCE = 32_000_000  # bytes that go into one pack when it is made
DIGITS = 32  # of its digest, as they stand in its name
EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest time that ZIP knows; the same files make the same bytes
CANNOT_READ = (
    zipfile.BadZipFile,
    zlib.error,
    OSError,
    ValueError,
    EOFError,
    KeyError,
    NotImplementedError,
    RuntimeError,
)
_NAME = re.compile(r"(commits|changes)-(?!00000000)(\d{8})-(\d{8})-([0-9a-f]{32})\.zip")
_MEMBER = re.compile(r"commits/(?!00000000)(\d{8})\.json|changes/(?!00000000)(\d{8})-[0-9a-f]{32}\.parquet")

Members = Mapping[str, bytes]


class PackDamaged(DamagedError):  # noqa: N818
    """A pack is not what was written, so nothing in it can be had."""

    def __init__(self, path: str, why: str) -> None:
        super().__init__(f"{path} {why}; run mend, or restore it from a copy of the register")
        self.path = path
        self.why = why


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack, as its name tells it."""

    name: str
    kind: str
    first: int
    last: int
    proof: str

    @property
    def path(self) -> str:
        """Where it lies."""
        return f"{FOLDER}/{self.name}"

    def covers(self, kind: str, number: int) -> bool:
        """Tell whether files of a commit may be in it; a pack of commits holds every one from its first to its last."""
        return self.kind == kind and self.first <= number <= self.last


def pack_named(name: str) -> Pack | None:
    """Return the pack that a file's name tells of; None where it is no such name."""
    found = _NAME.fullmatch(name)
    if found is None:
        return None
    kind, first, last, proof = found[1], int(found[2]), int(found[3]), found[4]
    return Pack(name, kind, first, last, proof) if first <= last < first + MOST_SPAN else None


def place_of(path: str) -> tuple[str, int] | None:
    """Return the sort and the commit's number of a file that may lie in a pack; None for any other."""
    found = _MEMBER.fullmatch(path)
    return None if found is None else (path[:7], int(found[1] or found[2]))


class Opened:
    """The files in one pack, each unpacked when it is asked for.

    Raises
    ------
    PackDamaged : its bytes are not what its name says, or it holds what no pack may hold
    """

    def __init__(self, pack: Pack, data: bytes) -> None:
        self.pack = pack
        self.size = len(data)
        if not hashlib.sha256(data).hexdigest().startswith(pack.proof):
            raise PackDamaged(pack.path, "is not what was written (digest differs)")
        try:
            self._archive = zipfile.ZipFile(io.BytesIO(data))
            about = self._archive.infolist()
            wrong = _faults(pack, about)
        except CANNOT_READ as error:
            raise PackDamaged(pack.path, f"cannot be read: {error}") from error
        if wrong:
            raise PackDamaged(pack.path, wrong)
        self.members = {info.filename: info for info in about}

    def read(self, path: str) -> bytes:
        """Return the bytes of a file in it; never more of them than its list of contents says."""
        info = self.members[path]
        try:
            with self._archive.open(info) as file:
                data = file.read(info.file_size + 1)
        except CANNOT_READ as error:
            raise PackDamaged(self.pack.path, f"cannot be read: {error}") from error
        if len(data) != info.file_size:
            raise PackDamaged(self.pack.path, f"holds other bytes of {path} than it says")
        return data


def _faults(pack: Pack, about: list[zipfile.ZipInfo]) -> str:
    """Return what a pack's list of contents has that no pack may have; "" where all is well."""
    places = [place_of(i.filename) for i in about]
    if any(p is None or not pack.covers(*p) for p in places):
        return "holds files that do not belong into it"
    if len({i.filename for i in about}) < len(about):
        return "holds a file twice"
    if sum(i.file_size for i in about) > MOST_UNPACKED:
        return f"would expand to more than {MOST_UNPACKED:,} bytes"
    if pack.kind == "commits" and len(about) != pack.last - pack.first + 1:
        return "lacks some of the commits that its name tells of"
    return ""


def identified(data: bytes) -> Pack | None:
    """Return the pack that some bytes are, whatever name they lie under; None where they are none."""
    if not data.startswith(b"PK"):
        return None
    try:
        places = [place_of(i.filename) for i in zipfile.ZipFile(io.BytesIO(data)).infolist()]
        numbers, kinds = [p[1] for p in places if p], {p[0] for p in places if p}
        if len(kinds) != 1 or None in places:
            return None
        proof = hashlib.sha256(data).hexdigest()[:DIGITS]
        pack = pack_named(f"{kinds.pop()}-{min(numbers):08d}-{max(numbers):08d}-{proof}.zip")
        return pack and Opened(pack, data).pack
    except (*CANNOT_READ, PackDamaged):
        return None


def made(members: Members) -> Iterator[tuple[Pack, bytes]]:
    """Give packs of some files: of each sort, commits without a gap, none too large."""
    for kind in KINDS:
        numbered = sorted((p[1], path) for path in members if (p := place_of(path)) and p[0] == kind)
        for run in _runs(kind, numbered, members):
            data = _zipped((path, members[path]) for _, path in run)
            proof = hashlib.sha256(data).hexdigest()[:DIGITS]
            name = f"{kind}-{run[0][0]:08d}-{run[-1][0]:08d}-{proof}.zip"
            yield Pack(name, kind, run[0][0], run[-1][0], proof), data


def _runs(kind: str, numbered: list[tuple[int, str]], members: Members) -> Iterator[list[tuple[int, str]]]:
    run: list[tuple[int, str]] = []
    size = 0
    for number, path in numbered:
        gap = bool(run) and kind == "commits" and number != run[-1][0] + 1
        full = bool(run) and (size + len(members[path]) > MOST_AT_ONCE or number - run[0][0] >= MOST_SPAN)
        if gap or full:
            yield run
            run, size = [], 0
        run.append((number, path))
        size += len(members[path])
    if run:
        yield run


def _zipped(files: Iterable[tuple[str, bytes]]) -> bytes:
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as archive:
        for path, data in files:
            info = zipfile.ZipInfo(path, EPOCH)
            info.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(info, data)
    return sink.getvalue()
