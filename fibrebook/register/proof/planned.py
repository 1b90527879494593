"""A register's files as they would stand after some steps that are only noted; then the steps, done one by one.

Who mends works on this: nothing is touched before the whole of it is known, and what is looked at beforehand (a dry
run) is exactly what will be done. Bytes that a step puts away are kept in `replaced/`, until the register is tidied.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from fibrebook.errors import FibrebookError, NotCommittedError
from fibrebook.register.places.asked import AlreadyThere, Blobs, Missing, OutcomeUnknown, proper
from fibrebook.register.places.packs import Packed
from fibrebook.register.store.state import digest

REPLACED = "replaced"
LONGEST_NAME = 120


@dataclass(frozen=True, slots=True)
class FileStep:
    """One step: make a file, put one in the place of another, or take one away (`data` is None)."""

    path: str
    data: bytes | None
    only_if_absent: bool = False
    keep: bool = True  # keep the bytes that stood there


class Planned:
    """The files of a register as they would be; the register itself is only read."""

    def __init__(self, real: Blobs) -> None:
        self.real = real
        self.where = real.where
        self.steps: list[FileStep] = []
        self._now: dict[str, bytes | None] = {}

    def _note(self, step: FileStep) -> None:
        self.steps.append(step)
        self._now[step.path] = step.data

    def local_path(self, path: str) -> Path | None:
        """Return where the file lies, or would lie."""
        return self.real.local_path(path)

    def read(self, path: str) -> bytes:
        """Return a file's bytes as they would be."""
        if path not in self._now:
            return self.real.read(path)
        data = self._now[path]
        if data is None:
            raise Missing(path)
        return data

    def exists(self, path: str) -> bool:
        """Tell whether there would be such a file."""
        return self._now[path] is not None if path in self._now else self.real.exists(path)

    def is_link(self, path: str) -> bool:
        """Tell whether it would be a link to something else."""
        return path not in self._now and self.real.is_link(path)

    def everything(self) -> list[str]:
        """Return the paths of all files that there would be."""
        return sorted(
            {p for p in self.real.everything() if p not in self._now}
            | {p for p, d in self._now.items() if d is not None}
        )

    def list(self, prefix: str) -> list[str]:
        """Return the names of the files that there would be in one folder."""
        start = prefix.rstrip("/") + "/"
        there = {n for n in self.real.list(prefix) if self._now.get(start + n, b"") is not None}
        return sorted(there | {p[len(start) :] for p, d in self._now.items() if d is not None and p.startswith(start)})

    def changed_at(self, path: str) -> float:
        """Return when a file was written; now, for one that would be made."""
        if path not in self._now:
            return self.real.changed_at(path)
        if self._now[path] is None:
            raise Missing(path)
        return time.time()

    def refresh(self, path: str) -> None:
        """Note that the same bytes are to be written once more."""
        self._note(FileStep(path, self.read(path), keep=False))

    def confirm(self, path: str) -> None:
        """Note that a file is to be made safely there, unless a step makes it anyway."""
        if path not in self._now and self.exists(path):
            self.refresh(path)

    def create(self, path: str, data: bytes) -> None:
        """Note a file to be made."""
        if self.exists(proper(path)):
            raise AlreadyThere(path)
        self._note(FileStep(path, data, only_if_absent=path not in self._now))

    def replace(self, path: str, data: bytes) -> None:
        """Note a file to be put in the place of another, or of none."""
        self._note(FileStep(proper(path), data))

    def delete(self, path: str, keep: bool = True) -> None:
        """Note a file to be taken away; `keep` its bytes in `replaced/`."""
        if self.exists(path):
            self._note(FileStep(path, None, keep=keep))

    def delete_all(self, paths: Iterable[str]) -> None:
        """Note files to be taken away."""
        for path in paths:
            self.delete(path)

    def touched(self, path: str) -> bool:
        """Tell whether some step concerns a file."""
        return path in self._now

    def again(self) -> Planned:
        """Return a plan of the same steps, to go on with by itself."""
        other = Planned(self.real)
        other.steps, other._now = list(self.steps), dict(self._now)
        return other


class PlannedRegister(Packed):
    """The files of a register as they would be, those in packs too; every step is one on the files as they lie."""

    def __init__(self, real: Packed, planned: Planned | None = None) -> None:
        self.real = real
        self.planned = planned or Planned(real.files)
        super().__init__(self.planned)

    @property
    def steps(self) -> list[FileStep]:
        """The noted steps."""
        return self.planned.steps

    def delete(self, path: str, keep: bool = True) -> None:
        """Note a file to be taken away, out of packs too; `keep` its bytes in `replaced/`."""
        self.planned.delete(path, keep)
        self._take_out([path])

    def touched(self, path: str) -> bool:
        """Tell whether some step concerns a file itself."""
        return self.planned.touched(path)


def carry_out(planned: Planned) -> None:
    """Do the noted steps in their order; first of all keep the bytes that they put away.

    A mend that is broken off at any step is taken up by mending again: what it had put away is looked through then.

    Raises
    ------
    NotCommittedError : the place refused, or somebody saved meanwhile; nothing is lost, it is safe to mend again
    """
    real = planned.real
    at = ""
    try:
        for path, data in _put_away(planned):
            at = path
            _make(real, f"{REPLACED}/{kept_name(path, data)}", data)
        for step in planned.steps:
            at = step.path
            if step.data is None:
                real.delete(step.path)
            elif step.only_if_absent:
                _make(real, step.path, step.data)
            else:
                real.replace(step.path, step.data)
    except AlreadyThere:
        raise NotCommittedError(
            f"somebody saved while this was mended: {at} is there meanwhile. Nothing is lost; run mend again"
        ) from None
    except (OSError, OutcomeUnknown) as error:
        raise NotCommittedError(
            f"mending stopped at {at}: {error}. Nothing is lost (what was to be replaced is kept in {REPLACED}/); "
            "run mend again"
        ) from error


def _make(real: Blobs, path: str, data: bytes) -> None:
    try:
        real.create(path, data)
    except AlreadyThere:
        if real.read(path) != data:
            raise
        real.refresh(path)


def _put_away(planned: Planned) -> Iterator[tuple[str, bytes]]:
    """Give what the steps take away or write over, as it stands now."""
    for path in dict.fromkeys(s.path for s in planned.steps if s.keep and not s.only_if_absent):
        try:
            data = planned.real.read(path)
        except (Missing, FibrebookError):
            continue  # nothing there, or nothing that can be read
        if data and not (planned.exists(path) and planned.read(path) == data):
            yield path, data


def kept_name(path: str, data: bytes) -> str:
    """Return the name under which bytes that stood at a path are kept."""
    return f"{digest(data)[:32]}-{path.replace('/', '--')[-LONGEST_NAME:]}"


def forget_replaced(blobs: Blobs) -> int:
    """Remove what mending has replaced; return how many files went."""
    names = blobs.list(REPLACED)
    for name in names:
        blobs.delete(f"{REPLACED}/{name}")
    return len(names)
