"""Mending: putting back what the history, or another copy of the register, still holds.

Everything is planned first, on files that are only thought (`planned.py`). What goes into a place is proven by a digest
that stands elsewhere; a lost file of rows is worked out again from a state and the changes between. Where two answers
are possible nothing is moved, and it is said. What a mend replaces is kept in `replaced/` until the register is tidied.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fibrebook.errors import FibrebookError
from fibrebook.register.care.file_replacement import replace_files, to_sweep
from fibrebook.register.care.mend_files import DataFiles
from fibrebook.register.care.mend_packs import PackFiles
from fibrebook.register.care.verify import verify
from fibrebook.register.commits.edit import required_text
from fibrebook.register.commits.history_index import FOLDER as INDEX
from fibrebook.register.commits.proposal import Store
from fibrebook.register.copies.forks import Forks
from fibrebook.register.places.pack_file import FOLDER as PACKS
from fibrebook.register.places.packs import Packed
from fibrebook.register.proof.chain import Chain, chain_of
from fibrebook.register.proof.damage import FOLLOWS_NOT, MISSING, STILL_THERE, Damage
from fibrebook.register.proof.evidence import ASIDE, Evidence, read_or_none
from fibrebook.register.proof.planned import PlannedRegister, carry_out
from fibrebook.register.row_files.read import Reader
from fibrebook.register.store.commit_files import HEAD
from fibrebook.register.store.log import Log
from fibrebook.register.store.state import digest

if TYPE_CHECKING:
    import pandas as pd

CANNOT = "cannot be mended"
SIDE_BY_SIDE = "two people's saves side by side"


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


def mend(blobs: Packed, by: str, why: str, source: Packed | None = None, dry_run: bool = False) -> list[Mended]:
    """Mend what can be mended; return one line for each thing that was found.

    Parameters
    ----------
    source : another copy of the same register (a backup, a copy taken away) to take sound files from
    dry_run : tell what would be done and change nothing

    Raises
    ------
    NotCommittedError : the place refused, or somebody saved meanwhile; nothing is lost, it is safe to mend again
    FormatError : a newer fibrebook wrote some of it
    """
    by, why = (by or "-", why or "-") if dry_run else (by, why)
    by, why = required_text(by, "by", "your initials"), required_text(why, "why", "a few words on what for")
    left: set[str] = set()
    while True:
        packs = PackFiles(PlannedRegister(blobs), source, frozenset(left))
        planned, told = _planned(packs, source, by, why)
        lines, failed = packs.judge([(m.file, m.what, m.how) for m in told])
        if not failed:
            break
        left |= failed  # what they held is not all to be had: once more, and they stay where they are
    _never_worse(planned)
    if not dry_run:
        carry_out(planned.planned)
    return [Mended(*line) for line in lines]


def _planned(packs: PackFiles, source: Packed | None, by: str, why: str) -> tuple[PlannedRegister, list[Mended]]:
    """Note every step on planned files; return them, and what they mend and what nothing can."""
    before = packs.planned
    first = {d.file: d.what for d in reversed(verify(before.real))}
    out = [Mended(*line) for line in packs.put_right([f for f in first if not f.startswith(f"{PACKS}/")])]
    damages = {d.file: d.what for d in reversed(verify(before))}
    evidence = Evidence(before, [f for f in damages if before.exists(f)], source, packs.lay_there)
    chain = chain_of(evidence)
    planned = packs.planned = PlannedRegister(before.real, before.planned.again())
    out += _log_files(packs, evidence, chain, damages, by, why)
    told = {m.file for m in out}
    store = _store(planned)
    if store is None:
        return planned, out
    if chain.whole:
        for file in to_sweep(store):
            planned.delete(file, keep=False)  # taken away on purpose: by a redaction perhaps
            out.append(Mended(file, STILL_THERE, "removed, as a commit says"))
            told.add(file)
    files = DataFiles(store, evidence, chain.whole)
    found = {d.file: d for d in [*verify(planned), *files.lost_photos()] if not _follows_from(d, chain)}
    found = {f: d for f, d in found.items() if not f.startswith(f"{PACKS}/")}
    how: dict[str, str] = {}
    while waiting := [d for d in found.values() if d.file not in told and how.get(d.file, CANNOT).startswith(CANNOT)]:
        how |= {d.file: files.mend(d.file, d.what) for d in waiting}
        if all(how[d.file].startswith(CANNOT) for d in waiting):
            break  # else one that was mended may be what another waits for
    out += [Mended(d.file, d.what, how[d.file]) for d in found.values() if d.file in how]
    if files.renewed:
        replace_files(store, by, why, "mend", lambda newest: (files.renewed, None), {"mended": sorted(files.renewed)})
    return planned, out


def _store(planned: PlannedRegister) -> Store | None:
    """Return the store on the planned files; None where register.json cannot be read even so."""
    log = Log(planned, quiet=True)
    try:
        log.head()
    except FibrebookError:
        return None
    return Store(planned, log, Reader(planned, log))


def _log_files(
    packs: PackFiles, evidence: Evidence, chain: Chain, damages: dict[str, str], by: str, why: str
) -> Iterator[Mended]:
    """Put register.json and the commit files right, and bring commits beside the chain into it."""
    planned = packs.planned
    for path, remedy in sorted(chain.faults.items()):
        yield Mended(
            path, damages.get(path, MISSING if not planned.exists(path) else FOLLOWS_NOT), f"{CANNOT}: {remedy}"
        )
    forks = Forks(planned, evidence, chain)
    if chain.whole:
        forks.set_aside()
        yield from (Mended(*line) for line in packs.disentangle(evidence, chain))
    for path, (data, how) in sorted(chain.put.items()):
        if read_or_none(planned, path) == data:
            continue  # it was among several, and is the only one now
        yield Mended(
            path, damages.get(path, "lay under another name" if path in damages else "is not in its place"), how
        )
        planned.replace(path, data)
    for path in chain.stray:
        planned.delete(path)
        yield Mended(
            path, damages.get(path, ""), "put away: a double of an earlier commit, where nothing was ever saved"
        )
    store = _store(planned)
    if chain.whole and store is not None:
        told = set(chain.put) | set(chain.stray)
        for file, how in forks.merge(store, by, why):
            if file not in told:
                told.add(file)
                yield Mended(file, SIDE_BY_SIDE, how)


def _follows_from(damage: Damage, chain: Chain) -> bool:
    """Tell whether a damage is only what another one leads to, or waits until the chain is whole.

    A file that is missing may have been tidied away, or redacted, by a commit that is lost: it must not come back.
    """
    if chain.whole:
        return False
    waits = damage.file.startswith((f"{ASIDE}/", f"{INDEX}/")) or (
        damage.what == MISSING and damage.file.startswith(("tables/", "changes/", "photos/"))
    )
    return waits or (damage.what == FOLLOWS_NOT and damage.file not in chain.faults)


def _never_worse(planned: PlannedRegister) -> None:
    """Refuse a plan after which less could be read, or an older state; whatever was thought before."""
    before, after = Log(planned.real, quiet=True), Log(planned, quiet=True)
    try:
        before.head()
        number = before.newest()
        state = before.state(number)
    except FibrebookError:
        return
    after.head()
    files = after.state(after.newest()).files()
    same = number == 0 or after.raw(number) == before.raw(number)
    merged = any(s.path.startswith(f"{ASIDE}/") for s in planned.steps)  # then it stands again in a later commit
    lost = [f for f, ref in files.items() if planned.touched(f) and digest(planned.read(f)) != ref.sha256]
    if after.newest() < number or lost or not (merged or (same and after.state(number) == state)):
        raise FibrebookError(
            f"mend would have left an older or lesser register than the one that opens now (commit {number}), so "
            "nothing was changed; keep a copy of the folder as it is, and restore a backup"
        )


def to_frame(found: list[Mended]) -> pd.DataFrame:
    """Return one row a file: file, what, how, ok."""
    import pandas as pd

    rows = [(m.file, m.what, m.how, m.ok) for m in found]
    return pd.DataFrame(rows, columns=["file", "what", "how", "ok"])


__all__ = ["HEAD", "Mended", "mend", "to_frame"]
