"""The files of a register, whether they lie by themselves or in a pack: nobody above knows which.

Old commit files and files of changes are put together into packs (`register/care/packing.py`), bytes kept exactly.
Where one file lies in several places, by itself and in a pack or in two packs, all must hold the same bytes: none is
preferred in silence. A pack is never changed; taking a file out of it makes a new one without it, then the old goes.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from fibrebook.errors import DamagedError
from fibrebook.register.places.asked import AlreadyThere, Blobs, Missing
from fibrebook.register.places.pack_file import FOLDER, Opened, Pack, PackDamaged, made, pack_named, place_of
from fibrebook.register.places.pack_list import PackList

STALE_S = 60.0  # a list of a bucket's packs is asked for again; what is packed is a day old, so nothing is missed
TRIES = 3
Names = list[str]


class Packed:
    """Files by path, those in packs too.

    Attributes
    ----------
    files : the files as they lie, packs among them
    """

    def __init__(self, files: Blobs) -> None:
        self.files = files
        self.where = files.where
        self.list_of_packs = PackList(files)

    # --- packs -------------------------------------------------------------------------------------------------------
    def packs(self) -> Sequence[Pack]:
        """Return the packs there are now, by their names."""
        return self.list_of_packs.all(anew=True)

    def opened(self, pack: Pack) -> Opened:
        """Return a pack to read in.

        Raises
        ------
        PackDamaged : it is not what was written; Missing : it is not there any more
        """
        return self.list_of_packs.opened(pack)

    def versions(self, path: str) -> dict[str, bytes]:
        """Return the bytes of a file in every place where it can be read: its own path, or in a pack."""
        found: dict[str, bytes] = {}
        with contextlib.suppress(Missing, DamagedError):
            found[path] = self.files.read(path)
        for opened in self.list_of_packs.holding(path):
            found[f"{opened.pack.path}/{path}"] = opened.read(path)
        return found

    # --- reading -----------------------------------------------------------------------------------------------------
    def read(self, path: str) -> bytes:
        """Return a file's bytes.

        Raises
        ------
        Missing : it is nowhere; PackDamaged : the pack that may hold it cannot be read
        DamagedError : it lies in two places whose bytes differ
        """
        if path.startswith(f"{FOLDER}/") and path.count("/") > 1:
            return self._within(path)
        if place_of(path) is None:
            return self.files.read(path)
        for _ in range(TRIES):
            before = self.list_of_packs.all()
            try:
                return self._read(path)
            except Missing:
                if self.packs() == before:
                    raise
        raise Missing(path)

    def _read(self, path: str) -> bytes:
        found: dict[str, bytes] = {}
        damaged: PackDamaged | None = None
        with contextlib.suppress(Missing):
            found[path] = self.files.read(path)
        for pack in self.list_of_packs.covering(path):
            try:
                opened = self.opened(pack)
                if path in opened.members:
                    found[pack.path] = opened.read(path)
            except PackDamaged as error:
                damaged = error
            except Missing:
                continue  # it was made anew meanwhile
        if not found:
            raise damaged or Missing(path)
        if len(set(found.values())) > 1:
            raise DamagedError(
                f"{path} lies in {len(found)} places that differ ({', '.join(found)}): two people have saved into "
                "separate copies of one folder, or a file was exchanged; run mend"
            )
        return next(iter(found.values()))

    def _within(self, path: str) -> bytes:
        """Return a file in one certain pack, as `versions` names it."""
        _, name, inner = path.split("/", 2)
        pack = pack_named(name)
        if pack is None or inner not in self.opened(pack).members:
            raise Missing(path)
        return self.opened(pack).read(inner)

    def exists(self, path: str) -> bool:
        """Tell whether there is such a file."""
        if self.files.exists(path):
            return True
        if place_of(path) is None:
            return False
        if self._in_packs(path):
            return True
        if self.local_path(path) is None and abs(time.time() - self.list_of_packs.listed_at) < STALE_S:
            return False
        before = self.list_of_packs.all()
        return self.packs() != before and self._in_packs(path)

    def _in_packs(self, path: str) -> bool:
        found = self.list_of_packs.covering(path)
        return bool(found) and (path.startswith("commits/") or any(True for _ in self.list_of_packs.holding(path)))

    def list(self, prefix: str) -> Names:
        """Return the names of the files in one folder, sorted; what a damaged pack held is left out."""
        names = self.files.list(prefix)
        packs = [p for p in self.packs() if p.kind == prefix]
        if not packs:
            return names
        found = set(names)
        for pack in packs:
            try:
                found.update(path.partition("/")[2] for path in self.opened(pack).members)
            except (PackDamaged, Missing):
                continue
        return sorted(found)

    def last_packed(self) -> int:
        """Return the last commit that is in a pack, by the names of the packs; 0 = none is."""
        return max((p.last for p in self.packs() if p.kind == "commits"), default=0)

    def is_link(self, path: str) -> bool:
        """Tell whether what has that name is a link to something else."""
        return self.files.is_link(path)

    def everything(self) -> Names:
        """Return the paths of all files as they lie: packs, not what is in them."""
        return self.files.everything()

    def changed_at(self, path: str) -> float:
        """Return when a file was written; of one in a pack, when that was."""
        try:
            return self.files.changed_at(path)
        except Missing:
            for opened in self.list_of_packs.holding(path):
                return self.files.changed_at(opened.pack.path)
            raise

    def local_path(self, path: str) -> Path | None:
        """Return where the file lies on this machine, if by itself; None for a bucket."""
        return self.files.local_path(path)

    # --- changing ----------------------------------------------------------------------------------------------------
    def create(self, path: str, data: bytes) -> None:
        """Make the file only if absent, in packs too.

        A writer who slept for days may find his number free because its file was packed meanwhile: so it is looked for
        once more when the file stands, and what came too late goes.
        """
        place = place_of(path)
        if place is not None and self._in_packs(path):
            if path.startswith("commits/") or self.read(path) != data:
                raise AlreadyThere(path)
            return
        self.files.create(path, data)
        if place is None or place[0] != "commits" or self.last_packed() < place[1]:
            return
        if any(b != data for p, b in self.versions(path).items() if p != path):
            self.files.delete(path)
            raise AlreadyThere(path)

    def replace(self, path: str, data: bytes) -> None:
        """Put a file in the place of another, or of none; packs that hold other bytes of it are made without it."""
        self.files.replace(path, data)
        if any(o.read(path) != data for o in self.list_of_packs.holding(path)):
            self._take_out([path])

    def confirm(self, path: str) -> None:
        """Make a file safely there that somebody else made; what is in a pack is."""
        self.files.confirm(path)

    def refresh(self, path: str) -> None:
        """Write the same bytes once more; what is in a pack is never taken for left over."""
        try:
            self.files.refresh(path)
        except Missing:
            if not self._in_packs(path):
                raise

    def delete(self, path: str) -> None:
        """Remove a file, out of packs too; none of that name is no error."""
        self.delete_all([path])

    def delete_all(self, paths: Iterable[str]) -> None:
        """Remove files, out of packs too; each pack is made anew once."""
        old: Names = []

        def noted() -> Iterator[str]:
            for path in paths:
                if place_of(path) is not None:
                    old.append(path)
                yield path

        self.files.delete_all(noted())
        self._take_out(old)

    def _take_out(self, paths: Iterable[str]) -> None:
        """Make the packs that hold some files anew without them."""
        wanted = {(place, p) for p in paths if (place := place_of(p)) is not None}
        if not wanted or not self.packs():
            return
        for pack in self.list_of_packs.all():
            own = {p for place, p in wanted if pack.covers(*place)}
            if own and own & self.opened(pack).members.keys():
                self.remake(pack, own)

    def remake(self, pack: Pack, without: Iterable[str]) -> None:
        """Make one pack anew without some files: first what stays, then the old one goes."""
        opened = self.opened(pack)
        for new, data in made({p: opened.read(p) for p in opened.members.keys() - set(without)}):
            self.add(new, data)
        self.files.delete(pack.path)
        self.packs()

    def add(self, pack: Pack, data: bytes) -> None:
        """Make a pack; the same bytes under its name are as good."""
        try:
            self.files.create(pack.path, data)
        except AlreadyThere:
            if self.files.read(pack.path) != data:
                raise PackDamaged(pack.path, "is not what its name says") from None
            self.files.refresh(pack.path)
        self.list_of_packs.made(pack)


def as_they_lie(blobs: Blobs) -> Blobs:
    """Return the files without those that are in packs."""
    return blobs.files if isinstance(blobs, Packed) else blobs


def last_packed(blobs: Blobs) -> int:
    """Return the last commit that is in a pack; 0 = none is."""
    return blobs.last_packed() if isinstance(blobs, Packed) else 0


__all__ = ["Packed", "as_they_lie", "last_packed"]
