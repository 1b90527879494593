"""Which packs there are, and what is in them: each read once, and only believed where its digest is right."""

from __future__ import annotations

import hashlib
import threading
import time
from bisect import bisect_right
from collections import OrderedDict
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence

from fibrebook.errors import DamagedError
from fibrebook.register.places.asked import Blobs, Missing
from fibrebook.register.places.pack_file import (
    DIGITS,
    FOLDER,
    KINDS,
    MOST_SPAN,
    Opened,
    Pack,
    PackDamaged,
    pack_named,
    place_of,
)

BELONGS_NOT = "does not belong here; run mend"
KEPT_BYTES = 32 * 1024 * 1024  # of packs read last


class PackList:
    """The packs of a register.

    Attributes
    ----------
    listed_at : when they were last asked for, in seconds since 1970
    """

    def __init__(self, files: Blobs) -> None:
        self.files = files
        self.listed_at = 0.0
        self._packs: Sequence[Pack] | None = None  # in the order of their first commits
        self._by_first: Mapping[str, tuple[Sequence[Pack], Sequence[int]]] = {}  # of each sort, and their first commits
        self._opened: OrderedDict[str, Opened] = OrderedDict()
        self._lock = threading.RLock()

    def all(self, anew: bool = False) -> Sequence[Pack]:
        """Return the packs by their names, as they were listed last; `anew`: as they are."""
        with self._lock:
            if anew or self._packs is None:
                found = [pack_named(n) for n in self.files.list(FOLDER)]
                self._take(p for p in found if p)
                self.listed_at = time.time()
            assert self._packs is not None
            return self._packs

    def _take(self, packs: Iterable[Pack]) -> None:
        self._packs = sorted(set(packs), key=lambda p: (p.kind, p.first, p.last, p.name))
        of_sort = {k: [p for p in self._packs if p.kind == k] for k in KINDS}
        self._by_first = {k: (own, [p.first for p in own]) for k, own in of_sort.items()}

    def made(self, pack: Pack) -> None:
        """Take in a pack that was made just now, without asking for all anew."""
        with self._lock:
            self._take([*self.all(), pack])

    def opened(self, pack: Pack) -> Opened:
        """Return a pack to read in.

        Raises
        ------
        PackDamaged : it is not what was written; Missing : it is not there any more
        """
        with self._lock:
            if pack.name in self._opened:
                self._opened.move_to_end(pack.name)
                return self._opened[pack.name]
            try:
                data = self.files.read(pack.path)
            except DamagedError as error:
                raise PackDamaged(pack.path, f"cannot be read: {error.message}") from error
            found = self._opened[pack.name] = Opened(pack, data)
            while sum(o.size for o in self._opened.values()) > KEPT_BYTES and len(self._opened) > 1:
                self._opened.popitem(last=False)
            return found

    def covering(self, path: str) -> Sequence[Pack]:
        """Return the packs that by their names may hold a file."""
        place = place_of(path)
        if place is None or not self.all():
            return []
        kind, number = place
        with self._lock:
            packs, firsts = self._by_first[kind]
        near = slice(bisect_right(firsts, number - MOST_SPAN), bisect_right(firsts, number))
        return [p for p in packs[near] if p.covers(kind, number)]

    def holding(self, path: str) -> Iterator[Opened]:
        """Give the sound packs that hold a file."""
        for pack in self.covering(path):
            try:
                opened = self.opened(pack)
            except (PackDamaged, Missing):
                continue
            if path in opened.members:
                yield opened

    def faults(self) -> Iterator[tuple[str, str]]:
        """Give each file among the packs that is none or is damaged, and what is wrong with it; each is read anew."""
        with self._lock:
            self._opened.clear()
        for name in self.files.list(FOLDER):
            pack = pack_named(name)
            if pack is None:
                yield f"{FOLDER}/{name}", BELONGS_NOT
                continue
            try:
                self.opened(pack)
            except Missing:
                yield pack.path, "is missing"
            except PackDamaged as error:
                yield pack.path, error.why

    def strangers(self, named: Container[str]) -> Iterator[tuple[str, str]]:
        """Give each sound pack with changes that are not among some nor what their names say, and what to say of it."""
        for pack in self.all(anew=True):
            try:
                opened = self.opened(pack)
                strange = [p for p in opened.members if pack.kind == "changes" and p not in named]
                wrong = [p for p in strange if hashlib.sha256(opened.read(p)).hexdigest()[:DIGITS] not in p]
            except (PackDamaged, Missing):
                continue  # told already, or made anew meanwhile
            if wrong:
                yield pack.path, f"holds {min(wrong)}, which is not what its name says (no commit names it)"
