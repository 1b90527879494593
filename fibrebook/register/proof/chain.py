"""Which commits make the one true chain, as their digests prove it; what may be put in its place, and what may not.

The chain is followed from its newest commit down to register.json: each commit names the digest of the one before, so
each step is proof. Where a step finds no bytes of that digest, or two chains could be the true one, nothing is moved.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from fibrebook.register.proof.evidence import ASIDE, Commit, Evidence, read_or_none, whole_commit
from fibrebook.register.proof.turned_bit import turned_back_by_itself
from fibrebook.register.store.commit_files import HEAD, commit_names
from fibrebook.register.store.state import Json, commit_path, digest, digest_checked

Bytes = tuple[bytes, str]  # what belongs somewhere, and where it was found
LOST = "the commit that belongs here is not to be had: restore it from a backup or another copy (mend --source)"


@dataclass
class Chain:
    """The commits 1 to `newest` by digest, and what of them does not lie in its place.

    Attributes
    ----------
    digests : of the commits, oldest first, from the lowest that is proven on; a chain that is whole begins at 1
    put : what is to be put where, by path
    stray : files that stand for no commit and bar the way: exact doubles of one of the chain
    faults : what cannot be settled, by path: then nothing but what is proven is touched
    """

    newest: int = 0
    digests: dict[int, str] = field(default_factory=dict)
    put: dict[str, Bytes] = field(default_factory=dict)
    stray: list[str] = field(default_factory=list)
    faults: dict[str, str] = field(default_factory=dict)

    @property
    def whole(self) -> bool:
        """Whether the true chain is known from register.json to its newest commit."""
        return not self.faults


@dataclass
class _Way:
    """A way down from one commit; `end` is the number that it did not find (-1: it found register.json)."""

    top: int
    digests: dict[int, str]
    put: dict[str, Bytes]
    end: int
    proper: int  # how many of its commits lie under their own names
    time: str
    tips: list[str] = field(default_factory=list)  # names of the commit it begins with

    @property
    def anchored(self) -> bool:
        """Whether it may be the true one: a stranger's file lies alone, under a name that is not its own."""
        return self.end < 0 or self.proper > 0 or any(n.startswith(f"{ASIDE}/") for n in self.tips)


def chain_of(evidence: Evidence) -> Chain:
    """Return the true chain as far as it is proven."""
    after = {c.previous for c in evidence.commits.values()}
    ways = [_down(evidence, c) for c in evidence.commits.values() if c.digest not in after]
    sound = [w for w in ways if w.end < 0]
    best = max(sound, key=lambda w: (w.top, w.proper, w.time), default=None)
    chain = Chain() if best is None else Chain(best.top, best.digests, best.put)
    head = read_or_none(evidence.blobs, HEAD)
    if best is None and head is not None and digest_checked(head) is not None:
        chain.digests[0] = digest(head)
    if best is None and not ways:
        _head_alone(evidence, chain)
    _upwards(evidence, chain)
    doubtful = [w for w in ways if w.end >= 0 and w.anchored and w.top > chain.newest]
    _judge(evidence, chain, doubtful)
    if best is None and len(doubtful) == 1:
        chain.put.update(doubtful[0].put)  # each of them proven by the one after it
    _above(evidence, chain)
    return chain


def _down(evidence: Evidence, top: Commit) -> _Way:
    """Follow the digests from a commit down to register.json, or to the first that cannot be found."""
    way = _Way(top.number, {top.number: top.digest}, {}, -1, 0, top.time, top.names)
    previous, number = _placed(evidence, top, way), top.number - 1
    while number > 0:
        here = evidence.commits.get(previous)
        if here is not None and here.number == number:
            way.digests[number] = previous
            previous, number = _placed(evidence, here, way), number - 1
            continue
        found = evidence.find(previous, commit_path(number))
        said = None if found is None else whole_commit(found[0])
        if found is None or said is None or said["commit"] != number:
            way.end = number
            return way
        way.digests[number] = previous
        way.put[commit_path(number)] = found
        previous, number = said["previous_digest"], number - 1
    head = read_or_none(evidence.blobs, HEAD)
    if head is None or digest(head) != previous:
        found = evidence.find(previous, HEAD)
        if found is None:
            way.end = 0
        else:
            way.put[HEAD] = found
    return way


def _placed(evidence: Evidence, commit: Commit, way: _Way) -> str:
    if commit.proper:
        way.proper += 1
    else:
        way.put[commit.path] = (evidence.bytes_of(commit), _where(commit))
    return commit.previous


def _where(commit: Commit) -> str:
    name = commit.names[0]
    return f"is commit {commit.number}, now under its own name (it lay at {name})"


def _head_alone(evidence: Evidence, chain: Chain) -> None:
    """Judge register.json where no commit tells its digest."""
    there = read_or_none(evidence.blobs, HEAD)
    if there is not None and digest_checked(there) is not None:
        return
    back = None if there is None else turned_back_by_itself(there)
    data = read_or_none(evidence.source, HEAD)
    if back is not None:
        chain.put[HEAD] = (back, "one bit had turned and was turned back")
    elif data and there and digest_checked(data) is not None and data.startswith(there):
        chain.put[HEAD] = (data, "taken from the other copy")
    else:
        chain.faults[HEAD] = "it is lost, and no commit tells what it was: restore it from a backup"


def _upwards(evidence: Evidence, chain: Chain) -> None:
    """Go on above the chain: by a turned bit, or by the other copy's commits that were made here."""
    while True:
        number, path = chain.newest + 1, commit_path(chain.newest + 1)
        there = read_or_none(evidence.blobs, path)
        back = None if there is None or digest_checked(there) is not None else turned_back_by_itself(there)
        if back is not None and _follows(back, chain):
            found = [(number, (back, "one bit had turned and was turned back"))]
        else:
            found = _made_here(evidence, chain)
            found = [] if found and _somebody_elses(evidence, number, found[0][1][0]) else found
        if not found:
            return
        for number, (data, how) in found:
            chain.newest, chain.digests[number] = number, digest(data)
            if digest(read_or_none(evidence.blobs, commit_path(number)) or b"") != digest(data):
                chain.put[commit_path(number)] = (data, how)


def _somebody_elses(evidence: Evidence, number: int, data: bytes) -> bool:
    """Tell whether in the place of a commit lies one that changed something else, and that was made here as well."""
    said = whole_commit(data)
    there = [c for c in evidence.commits.values() if c.path == commit_path(number) and c.proper]
    return any(evidence.blobs.exists(c.changes) and said and c.changes != said["changes"]["file"] for c in there)


def _follows(data: bytes, chain: Chain) -> Json | None:
    said = whole_commit(data)
    below = chain.digests.get(chain.newest)
    return said if said and said["commit"] == chain.newest + 1 and said["previous_digest"] == below else None


def _made_here(evidence: Evidence, chain: Chain) -> list[tuple[int, Bytes]]:
    """Return the other copy's commits that go on from here, up to the last whose history file proves it ours."""
    grown = Chain(chain.newest, dict(chain.digests))
    found: list[tuple[int, Bytes]] = []
    proven = 0
    while True:
        data = read_or_none(evidence.source, commit_path(grown.newest + 1))
        said = None if data is None else _follows(data, grown)
        if data is None or said is None:
            return found[:proven]
        grown.newest += 1
        grown.digests[grown.newest] = digest(data)
        found.append((grown.newest, (data, "taken from the other copy")))
        if evidence.blobs.exists(said["changes"]["file"]):
            proven = len(found)


def _judge(evidence: Evidence, chain: Chain, ways: list[_Way]) -> None:
    """Name what stands in the way where another chain, broken further down, may be the true one."""
    for way in ways:
        path = commit_path(way.end) if way.end else HEAD
        if way.end == 0:
            what = "it is not the one that commit 1 follows: it is of another register, or was changed"
            chain.faults[path] = f"{what}; restore it from a backup or another copy (mend --source)"
        elif evidence.blobs.exists(path):
            chain.faults[path] = f"commit {way.end + 1} does not follow what lies here; {LOST}"
        else:
            chain.faults[path] = LOST


def _above(evidence: Evidence, chain: Chain) -> None:
    """Judge what stands above the chain under names of commits: a double that nothing was ever saved as, or a loss."""
    for number in commit_names(evidence.blobs)[0]:
        path = commit_path(number)
        if number <= chain.newest or path in chain.faults or chain.faults:
            continue
        data = read_or_none(evidence.blobs, path)
        double = data is not None and digest(data) in chain.digests.values()
        if double and not any(evidence.saved_here(n) for n in range(chain.newest + 1, number + 1)):
            chain.stray.append(path)
            continue
        chain.faults[path] = (
            f"what lies here is not commit {number} of this register; {LOST}. "
            f"Until then the register opens as it was at commit {chain.newest}"
        )
