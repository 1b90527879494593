"""A disk that loses power: it notes each step, and tells every state that a cut after some of them may leave.

What it takes for granted is what POSIX and ordinary file systems promise and no more: a file's content is sure once it
was flushed, a name is sure once its folder was flushed; before that, content may be absent, cut short, or blocks of it
zero, and names may be there or not in any combination, whatever order they were made in. What a flush that failed was to
keep may be dropped for good: no later flush keeps it, only writing it again does.
"""

from __future__ import annotations

import errno
import itertools
import os
import random
from collections.abc import Iterator
from pathlib import Path

from fibrebook.register.places.folder import Disk

Tree = dict[str, bytes | None]  # path -> content; None = a folder
BLOCK = 512


class NotedDisk(Disk):
    """Does every step and notes it; can fail at one of them."""

    def __init__(self, root: Path, fail_at: int | None = None, error: int = errno.EIO, times: int = 1) -> None:
        self.root = root
        self.steps: list[tuple[str, str, bytes | str]] = []
        self.fail_at, self.error, self.times = fail_at, error, times

    def _note(self, what: str, path: Path, more: bytes | str = b"") -> None:
        at = len(self.steps)
        where = path.relative_to(self.root.parent).as_posix() if path.is_relative_to(self.root.parent) else str(path)
        if self.fail_at is not None and self.fail_at <= at < self.fail_at + self.times:
            self.steps.append((f"failed {what}", where, b""))
            raise OSError(self.error, os.strerror(self.error), str(path))
        self.steps.append((what, where, more))

    def write(self, path: Path, data: bytes) -> None:
        """Two steps: the content goes out, the content is flushed."""
        self._note("write", path, data)
        super().write(path, data)
        self._note("flush", path)

    def rename_over(self, path: Path, name: Path) -> None:
        """One step."""
        self._note("rename", path, name.relative_to(self.root.parent).as_posix())
        super().rename_over(path, name)

    def remove_folder(self, folder: Path) -> None:
        """One step."""
        self._note("unlink", folder)
        super().remove_folder(folder)

    def link(self, path: Path, name: Path) -> None:
        """One step."""
        if not name.exists():
            self._note("link", path, name.relative_to(self.root.parent).as_posix())
        super().link(path, name)

    def unlink(self, path: Path) -> None:
        """One step."""
        if path.exists():
            self._note("unlink", path)
        super().unlink(path)

    def make_folder(self, folder: Path) -> None:
        """One step."""
        self._note("folder", folder)
        super().make_folder(folder)

    def flush_folder(self, folder: Path) -> None:
        """One step."""
        self._note("names", folder)
        super().flush_folder(folder)


def tree_of(root: Path) -> Tree:
    """Return what a folder holds, by path from the folder above it."""
    found: Tree = {}
    for path in sorted(root.rglob("*")):
        found[path.relative_to(root.parent).as_posix()] = None if path.is_dir() else path.read_bytes()
    found[root.name] = None
    return found


class Unsure:
    """The disk after some steps: what is sure, and what may or may not have reached it."""

    def __init__(self, start: Tree, steps: list) -> None:
        self.sure: dict[str, int | None] = {}  # names -> file number, None = folder
        self.content: dict[int, bytes] = {}
        self.flushed: set[int] = set()
        self.waiting: list[tuple[str, str, int | None]] = []  # (folder, name, file or None) in order; -1 = taken away
        self.dropped: list[tuple[str, str, int | None]] = []  # the same, of flushes that failed
        self.spoilt: set[int] = set()  # files whose flush failed
        now: dict[str, int | None] = {}
        for number, (path, data) in enumerate(start.items()):
            now[path] = self.sure[path] = None if data is None else number
            if data is not None:
                self.content[number] = data
                self.flushed.add(number)
        for what, path, more in steps:
            self._step(what, path, more, now)

    def _step(self, what: str, path: str, more: bytes | str, now: dict[str, int | None]) -> None:
        if what == "write":
            number = len(self.content) + 10_000
            self.content[number] = bytes(more)  # type: ignore[arg-type]
            now[path] = number
            self._wait(path, number)
        elif what == "flush":
            self.flushed |= {now[path]} - self.spoilt  # type: ignore[arg-type]
        elif what == "failed flush":
            self.spoilt.add(now[path])  # type: ignore[arg-type]
        elif what == "rename":
            now[str(more)] = now.pop(path)
            self._wait(str(more), now[str(more)])
            self._wait(path, -1)
        elif what == "failed names":
            self.dropped += [w for w in self.waiting if w[0] == path]
            self.waiting = [w for w in self.waiting if w[0] != path]
        elif what == "link":
            now[str(more)] = now[path]
            self._wait(str(more), now[path])
        elif what == "unlink":
            now.pop(path)
            self._wait(path, -1)
        elif what == "folder":
            now[path] = None
            self._wait(path, None)
        elif what == "names":
            for _, name, number in [w for w in self.waiting if w[0] == path]:
                self._settle(self.sure, name, number)
                self.dropped = [w for w in self.dropped if w[1] != name]
            self.waiting = [w for w in self.waiting if w[0] != path]

    def _wait(self, path: str, number: int | None) -> None:
        self.waiting.append((path.rpartition("/")[0], path, number))

    @staticmethod
    def _settle(names: dict[str, int | None], name: str, number: int | None) -> None:
        if number == -1:
            names.pop(name, None)
        else:
            names[name] = number

    def outcomes(self, chance: random.Random | None = None, most: int = 64) -> Iterator[Tree]:
        """Give what the disk may hold when the power is back: every combination, or one by chance."""
        loose = self.dropped + self.waiting
        count = len(loose)
        if chance is not None:
            picks: Iterator[tuple[bool, ...]] = iter([tuple(chance.random() < 0.5 for _ in range(count))])
        else:
            picks = itertools.islice(itertools.product([False, True], repeat=count), most)
        for pick in picks:
            names = dict(self.sure)
            for (_, name, number), reached in zip(loose, pick, strict=True):
                if reached:
                    self._settle(names, name, number)
            names = {n: f for n, f in names.items() if self._reachable(n, names)}
            unsure = sorted({f for f in names.values() if f is not None and f not in self.flushed})
            yield from self._torn(names, unsure, chance)

    @staticmethod
    def _reachable(name: str, names: dict[str, int | None]) -> bool:
        folder = name.rpartition("/")[0]
        return not folder or (folder in names and Unsure._reachable(folder, names))

    def _torn(self, names: dict[str, int | None], unsure: list[int], chance: random.Random | None) -> Iterator[Tree]:
        for way in ["whole", "none", "half", "zeros"] if unsure and chance is None else ["chance"]:
            out: Tree = {}
            for name, number in names.items():
                if number is None:
                    out[name] = None
                elif number in self.flushed:
                    out[name] = self.content[number]
                else:
                    out[name] = self._tear(self.content[number], way, chance)
            yield out

    @staticmethod
    def _tear(data: bytes, way: str, chance: random.Random | None) -> bytes:
        if way == "chance":
            way = (chance or random.Random(0)).choice(["whole", "none", "half", "zeros"])
        if way == "none":
            return b""
        if way == "half":
            return data[: len(data) // 2]
        if way == "zeros":
            return data[:BLOCK] + bytes(max(len(data) - BLOCK, 0))
        return data


def lay_down(tree: Tree, target: Path) -> Path:
    """Write a tree into a folder; return the register's folder in it."""
    top = ""
    for name, data in sorted(tree.items()):
        top = top or name.split("/")[0]
        path = target / name
        if data is None:
            path.mkdir(parents=True, exist_ok=True)
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
    return target / top
