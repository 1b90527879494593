"""Two people saved into separate copies of one folder, and a synchronising drive has laid the copies together.

The commit files then form a tree instead of a chain. The longest way through it (in doubt the one under proper names)
stays; every other commit is made again on top of it by the merge that serves every edit, under its author's name.
"""

from __future__ import annotations

from collections.abc import Iterator

from fibrebook.errors import ConflictError, FibrebookError, RuleError
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.register.commits import pending
from fibrebook.register.commits.commit import commit
from fibrebook.register.commits.proposal import Proposal, Store
from fibrebook.register.proof.chain import Chain
from fibrebook.register.proof.evidence import ASIDE, Commit, Evidence, whole_commit
from fibrebook.register.proof.planned import PlannedRegister
from fibrebook.register.row_files.columns_stored import stored_kinds
from fibrebook.register.row_files.site_rows import plain
from fibrebook.register.row_files.undeclared import REMEDY
from fibrebook.register.store.state import Json, State, commit_path, digest

SET_ASIDE = "; it stays set aside"


class Forks:
    """The commits beside the chain.

    Parameters
    ----------
    chain : whole
    """

    def __init__(self, planned: PlannedRegister, evidence: Evidence, chain: Chain) -> None:
        self.planned = planned
        self.evidence = evidence
        self.chain = chain
        self.trunk = {d: n for n, d in chain.digests.items()}
        beside = [c for c in evidence.commits.values() if c.digest not in self.trunk]
        self.saves = sorted((c for c in beside if self._somebodys(c)), key=lambda c: (c.number, c.time, c.digest))
        self.strangers = [c for c in beside if c not in self.saves]

    def _somebodys(self, commit: Commit) -> bool:
        """Tell whether it was saved here by somebody: its history file came with it, and is not the chain's own."""
        own = self.chain.digests.get(commit.number)
        if own is not None and self._changes_of(own, commit.path) == commit.changes:
            return False  # the same commit in other words
        return bool(self.evidence.blobs.exists(commit.changes))

    def _changes_of(self, sha256: str, path: str) -> str:
        """Return the history file of a commit of the chain."""
        if sha256 in self.evidence.commits:
            return self.evidence.commits[sha256].changes
        said = whole_commit(self.chain.put[path][0]) if path in self.chain.put else None
        return str(said["changes"]["file"]) if said else ""

    def set_aside(self) -> None:
        """Lay each by itself first, so that a mend that is broken off can be taken up again."""
        for found in self.saves:
            if aside_of(found) not in found.names:
                self.planned.create(aside_of(found), self.evidence.bytes_of(found))

    def merge(self, store: Store, by: str, why: str) -> Iterator[tuple[str, str]]:
        """Make each again on top of the chain; give each file concerned and what was done with it."""
        for path in self.evidence.no_commit:
            if path not in self.chain.put and not _numbered(path):
                yield (
                    path,
                    "cannot be mended: it is no commit of this register that is whole; look at it, then move it away",
                )
        for found in self.strangers:
            for name in found.names:
                if not self.planned.touched(name):
                    yield name, "cannot be mended: what it changed is not here (or it is of another register)"
        for found in self.saves:
            how = self._again(store, found, by, why)
            yield _name_of(found), how
            for name in [*found.names, aside_of(found)]:
                set_aside = how.endswith(SET_ASIDE)
                if _of_the_log(name) and not self._of_the_chain(name) and not (set_aside and name == aside_of(found)):
                    self.planned.delete(name, keep=not set_aside and name != aside_of(found))
        for digest_ in self.trunk:
            for name in self.evidence.commits[digest_].names if digest_ in self.evidence.commits else ():
                if _of_the_log(name) and not self._of_the_chain(name) and self.planned.exists(name):
                    self.planned.delete(name, keep=False)  # the same bytes lie in their place
                    yield name, f"is commit {self.trunk[digest_]}, now under its own name"

    def _of_the_chain(self, name: str) -> bool:
        """Tell whether a commit of the chain lies, or will lie, under a name."""
        return _numbered(name) and 0 < int(name[8:16]) <= self.chain.newest

    def _again(self, store: Store, found: Commit, by: str, why: str) -> str:
        """Make a commit again on top of the chain; return what came of it (SET_ASIDE at its end: nothing)."""
        said = whole_commit(self.evidence.bytes_of(found))
        assert said is not None
        states = self._states(store, found, said)
        if states is None:
            return f"cannot be mended: the commit that it follows is not here{SET_ASIDE}"
        known = {d["digest"] for n in range(1, store.log.newest() + 1) for d in _origins(store.log.commit(n))}
        if found.digest in known:
            return f"commit {found.number} by {said['by']} was merged before"
        about = said["changes"]
        unknown = sorted(t for t in about["tables"] if t not in KINDS)
        if unknown:
            return (
                f"cannot be mended: the table {unknown[0]!r} of it belongs to a plugin that is not here; "
                f"{REMEDY}{SET_ASIDE}"
            )
        columns = states[-1].columns
        kinds = [stored_kinds(columns)[t] for t in about["tables"]]
        more = origin([(found.number, self.evidence.bytes_of(found))], said, by, why)
        base = min(found.number, self.chain.newest + 1) - 1
        try:
            before, own = ({k.name: plain(store.reader.rows(s, k, about["sites"]), k) for k in kinds} for s in states)
            proposal = Proposal(
                min(base, store.log.newest() - 1), tuple(about["sites"]), before, own,
                said["by"], said["why"], said["what"], {}, more, columns=columns,
            )  # fmt: skip
            made = commit(store, proposal)
            return f"commit {found.number} by {said['by']} merged as commit {made}"
        except (ConflictError, RuleError) as error:
            conflict = error if isinstance(error, ConflictError) else ConflictError(error.message, error.problems, [])
            kept = pending.kept(store.blobs, proposal, conflict)
            about_it = f"meets what others changed; kept as {kept.pending!r} to be decided"
            return f"commit {found.number} by {said['by']} {about_it}"
        except FibrebookError as error:
            return f"cannot be mended: {error.message}{SET_ASIDE}"

    def _states(self, store: Store, found: Commit, said: Json) -> tuple[State, State] | None:
        """Return the states before and after a commit beside the chain; None where what it follows is not here."""
        side = [said]
        while side[0]["previous_digest"] not in self.trunk:
            before = self.evidence.commits.get(side[0]["previous_digest"])
            if before is None:
                if side[0]["commit"] == 1 and side[0]["previous_digest"] == digest(store.log.head_bytes()):
                    break
                return None
            content = whole_commit(self.evidence.bytes_of(before))
            assert content is not None
            side.insert(0, content)
        states = [store.log.state(self.trunk.get(side[0]["previous_digest"], 0))]
        for content in side:
            states.append(states[-1].after(content))
        return states[-2], states[-1]


def aside_of(commit: Commit) -> str:
    """Return where a commit beside the chain is laid."""
    return f"{ASIDE}/{commit.digest}.json"


def _of_the_log(path: str) -> bool:
    """Tell whether a path is of the folders of commits: what lies elsewhere is put right as what its name says."""
    return path.startswith(("commits/", f"{ASIDE}/"))


def _numbered(path: str) -> bool:
    return path.startswith("commits/") and path[8:16].isdecimal() and path == commit_path(int(path[8:16]))


def _name_of(commit: Commit) -> str:
    return next((n for n in sorted(commit.names) if n.startswith("commits/")), commit.names[0])


def origin(copies: list[tuple[int, bytes]], said: Json, by: str, why: str) -> Json:
    """Return what a commit that was made elsewhere says of where it comes from."""
    return {
        "origin": {"commits": [{"commit": n, "digest": digest(data)} for n, data in copies]},
        "made_utc": said.get("made_utc", said["time_utc"]),
        "brought_by": by,
        "brought_why": why,
    }


def _origins(content: Json) -> list[Json]:
    return list((content.get("origin") or {}).get("commits", []))
