"""Mending packs: put back by the digest in their names, or left behind where all that they held stands elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from fibrebook.register.places.asked import Missing
from fibrebook.register.places.pack_file import FOLDER, Opened, Pack, PackDamaged, identified, pack_named, place_of
from fibrebook.register.places.packs import Packed
from fibrebook.register.proof.chain import Chain
from fibrebook.register.proof.evidence import Evidence, read_or_none
from fibrebook.register.proof.planned import REPLACED, PlannedRegister
from fibrebook.register.proof.turned_bit import turned_back
from fibrebook.register.store.state import digest

Told = tuple[str, str, str]  # file, what is wrong, how it was mended
CANNOT = "cannot be mended"
RESTORE = "restore it from a backup or another copy (mend --source)"
STRANGE = "is no pack of this register by its name"


@dataclass
class PackFiles:
    """The packs of a register that is mended.

    Attributes
    ----------
    left : damaged packs that stay as they are, for not all that they held can be had
    tried : damaged packs that are put away, if all that they held is found elsewhere
    lay_there : what lay in the places of damaged packs
    """

    planned: PlannedRegister
    source: Packed | None
    left: frozenset[str] = frozenset()
    tried: dict[str, str] = field(default_factory=dict)
    lay_there: dict[str, bytes] = field(default_factory=dict)

    def put_right(self, suspects: Iterable[str]) -> Iterator[Told]:
        """Plan what can be told of packs by their digests alone; give what is done.

        Parameters
        ----------
        suspects : other damaged files; a pack may lie under the name of one
        """
        files = self.planned.planned
        damaged: list[tuple[Pack, str]] = []
        strange: list[str] = []
        for name in files.list(FOLDER):
            pack = pack_named(name)
            if pack is None:
                strange.append(f"{FOLDER}/{name}")
                continue
            try:
                self.planned.opened(pack)
            except (PackDamaged, Missing) as error:
                damaged.append((pack, error.why if isinstance(error, PackDamaged) else "is missing"))
        places = [*strange, *(p.path for p, _ in damaged), *suspects]
        places += [f"{REPLACED}/{n}" for n in files.list(REPLACED)] if damaged else []
        found = {path: data for path in places if (data := read_or_none(files, path)) is not None}
        self.lay_there = {p.path: found[p.path] for p, _ in damaged if p.path in found}
        for pack, what in damaged:
            data, how = self._bytes_of(pack, found)
            if data is not None:
                files.replace(pack.path, data)
                yield pack.path, what, how
            elif pack.path not in self.left:
                files.delete(pack.path)
                self.tried[pack.path] = what
            else:
                yield pack.path, what, f"{CANNOT}, and not all that it held is to be had: {RESTORE}"
        for path in [*strange, *(p for p in suspects if not p.startswith(f"{FOLDER}/"))]:
            if path in found:
                yield from self._strange(path, found[path], path in strange)
        self.planned.packs()

    def _bytes_of(self, pack: Pack, found: dict[str, bytes]) -> tuple[bytes | None, str]:
        for data in found.values():
            if digest(data).startswith(pack.proof):
                return data, "found under another name"
        there = read_or_none(self.source.files if self.source else None, pack.path)
        if there is not None and digest(there).startswith(pack.proof):
            return there, "taken from the other copy"
        own = found.get(pack.path)
        back = None if own is None else turned_back(own, pack.proof)
        return back, "one bit had turned and was turned back"

    def _strange(self, path: str, data: bytes, in_folder: bool) -> Iterator[Told]:
        """Judge a file that is, or may be, a pack under a name not its own."""
        pack = identified(data)
        files = self.planned.planned
        if pack is not None and not files.exists(pack.path) and not self._stands(Opened(pack, data)):
            files.create(pack.path, data)
            if in_folder:
                files.delete(path, keep=False)
            yield pack.path, "lay under another name", f"is a pack, now under its own name (it lay at {path})"
        elif pack is not None and files.exists(pack.path) and in_folder and files.read(pack.path) == data:
            files.delete(path, keep=False)
            yield path, STRANGE, f"put away: the same as {pack.path}"
        elif in_folder:
            yield path, STRANGE, f"{CANNOT}: look at it, then move it away"

    def _stands(self, opened: Opened) -> bool:
        """Tell whether any of a pack's files stands in the register already."""
        return any(self.planned.exists(p) for p in opened.members)

    def disentangle(self, evidence: Evidence, chain: Chain) -> Iterator[Told]:
        """Take commits out of packs that are not those of the true chain: of another copy that went its own way."""
        wrong: dict[str, set[str]] = {}
        for commit in evidence.commits.values():
            for name in commit.names:
                if (
                    name.startswith(f"{FOLDER}/")
                    and name.count("/") > 1
                    and chain.digests.get(commit.number) != commit.digest
                ):
                    wrong.setdefault(name.split("/")[1], set()).add(commit.path)
        for name, paths in sorted(wrong.items()):
            pack = pack_named(name)
            assert pack is not None
            self.planned.remake(pack, paths)
            yield pack.path, f"holds {len(paths)} commit(s) that are not those of the chain", "made anew without them"

    def judge(self, told: list[Told]) -> tuple[list[Told], set[str]]:
        """Fold what follows from damaged packs into one line for each; return the lines, and packs to be left.

        Parameters
        ----------
        told : all that was found and how it was mended
        """
        out, failed = list(told), set()
        for path, what in self.tried.items():
            own = [t for t in out if self._of(path, t[0])]
            out = [t for t in out if t not in own]
            if any(t[2].startswith(CANNOT) for t in own):
                failed.add(path)
            how = f"its {len(own)} file(s) are had from elsewhere; what lay here is kept in {REPLACED}/"
            out.append((path, what, how if own else "of no use: all that it may have held stands elsewhere"))
        for path in self.left:
            out = [t for t in out if not self._of(path, t[0])]
        return out, failed

    def _of(self, path: str, file: str) -> bool:
        pack, place = pack_named(path.removeprefix(f"{FOLDER}/")), place_of(file)
        return pack is not None and place is not None and pack.covers(*place)
