"""Two people saved into separate copies of one folder, and a synchronising drive has laid the copies together.

The commit files then form a tree instead of a chain. The longest way through it (in doubt the one under proper names)
stays; every other commit is made again on top of it by the merge that serves every edit, under its author's name.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from fibrebook.errors import ConflictError, FibrebookError, RuleError
from fibrebook.records.kinds import KINDS
from fibrebook.register import pending
from fibrebook.register.commit import commit
from fibrebook.register.files import Blobs
from fibrebook.register.log import checked, commit_names
from fibrebook.register.proposal import Proposal, Store
from fibrebook.register.segments import plain
from fibrebook.register.state import Json, State, commit_path, digest, unsigned
from fibrebook.register.undeclared import REMEDY

ASIDE = "; it stays set aside"


@dataclass
class Node:
    """One commit file: its bytes, what it says, and the commits that follow from it."""

    data: bytes
    content: Json
    names: list[str] = field(default_factory=list)  # where it lies
    after: list[Node] = field(default_factory=list)

    @property
    def number(self) -> int:
        """Its number."""
        return int(self.content["commit"])

    @property
    def proper(self) -> bool:
        """Whether it lies under its own name."""
        return commit_path(self.number) in self.names

    def length(self) -> int:
        """Length of the longest way that begins here."""
        longest, level = 0, [self]
        while level:
            longest, level = longest + 1, [n for node in level for n in node.after]
        return longest


def merge_forks(store: Store, by: str, why: str) -> Iterator[tuple[str, str]]:
    """Bring a tree of commits into one chain; give each file concerned and what was done with it."""
    nodes, unknown = _gather(store)
    trunk = list(_trunk(nodes, digest(store.log.head_bytes())))
    others = sorted((n for n in nodes.values() if n not in trunk), key=lambda n: n.number)
    for name in unknown:
        yield name, "cannot be mended: it is no commit of this register that is whole; look at it, then move it away"
    for node in others:  # first set aside, so that a broken mend can be taken up again
        aside = f"aside/{digest(node.data)}.json"
        if aside not in node.names:
            store.blobs.create(aside, node.data)
    for node in trunk:
        _into_place(store, node)
    for node in others:
        if commit_path(node.number) in node.names and node.number > len(trunk):
            store.blobs.delete(commit_path(node.number))
    states = _states(nodes, trunk, store)
    for node in others:
        how, aside = _again(store, node, states, trunk, by, why), f"aside/{digest(node.data)}.json"
        yield _told(node), how
        for name in {*node.names, aside}:
            if name != commit_path(node.number) and not (name == aside and how.endswith(ASIDE)):
                store.blobs.delete(name)
    for node in trunk:
        for name in node.names:
            if name != commit_path(node.number):
                store.blobs.delete(name)
                yield name, f"is commit {node.number}, now under its own name"


def numbers_elsewhere(blobs: Blobs) -> set[int]:
    """Return the numbers of whole commits that lie under names that are not theirs."""
    files = [f"commits/{n}" for n in commit_names(blobs)[1]] + [f"aside/{n}" for n in blobs.list("aside")]
    found = {_number(blobs.read(f)) for f in files if unsigned(blobs.read(f)) is not None}
    return found - {0}


def _told(node: Node) -> str:
    return next((n for n in sorted(node.names) if n.startswith("commits/")), node.names[0])


def _gather(store: Store) -> tuple[dict[str, Node], list[str]]:
    nodes: dict[str, Node] = {}
    unknown: list[str] = []
    for folder in ("commits", "aside"):
        for name in store.blobs.list(folder):
            path = f"{folder}/{name}"
            data = store.blobs.read(path)
            try:
                content = checked(data, _number(data))
            except FibrebookError:
                unknown.append(path)
                continue
            nodes.setdefault(digest(data), Node(data, content)).names.append(path)
    for node in nodes.values():
        before = nodes.get(node.content["previous_digest"])
        if before is not None:
            before.after.append(node)
    return nodes, unknown


def _number(data: bytes) -> int:
    import json

    try:
        return int(json.loads(data)["commit"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return 0


def _trunk(nodes: dict[str, Node], root: str) -> Iterator[Node]:
    choices = [n for n in nodes.values() if n.content["previous_digest"] == root and n.number == 1]
    while choices:
        node = max(choices, key=lambda n: (n.length(), n.proper, n.content["time_utc"]))
        yield node
        choices = node.after


def _into_place(store: Store, node: Node) -> None:
    path = commit_path(node.number)
    if path in node.names:
        return
    store.blobs.delete(path)
    store.blobs.create(path, node.data)


def _states(nodes: dict[str, Node], trunk: list[Node], store: Store) -> dict[str, State]:
    """Return the state at every commit of the tree, by the commit's digest."""
    states = {digest(store.log.head_bytes()): State()}
    level = [n for n in nodes.values() if n.content["previous_digest"] in states]
    while level:
        for node in level:
            states[digest(node.data)] = states[node.content["previous_digest"]].after(node.content)
        level = [n for node in level for n in node.after]
    return states


def _again(store: Store, node: Node, states: dict[str, State], trunk: list[Node], by: str, why: str) -> str:
    """Make a commit of a side way again on top of the chain; return what came of it (ASIDE at its end: nothing)."""
    said = node.content
    own, before = states.get(digest(node.data)), states.get(said["previous_digest"])
    if own is None or before is None:
        return f"cannot be mended: the commit that it follows is not here{ASIDE}"
    known = {d["digest"] for n in range(1, store.log.newest() + 1) for d in _origins(store.log.commit(n))}
    if digest(node.data) in known:
        return f"commit {node.number} by {said['by']} was merged before"
    about = said["changes"]
    unknown = sorted(t for t in about["tables"] if t not in KINDS)
    if unknown:
        return f"cannot be mended: the table {unknown[0]!r} of it belongs to a plugin that is not here; {REMEDY}{ASIDE}"
    kinds = [KINDS[t] for t in about["tables"]]
    base = max((n.number for n in trunk if n.number < node.number), default=0)
    more = origin([(node.number, node.data)], said, by, why)
    proposal = Proposal(
        min(base, store.log.newest() - 1), tuple(about["sites"]),
        {k.name: plain(store.reader.rows(before, k, about["sites"]), k) for k in kinds},
        {k.name: plain(store.reader.rows(own, k, about["sites"]), k) for k in kinds},
        said["by"], said["why"], said["what"], {}, more,
    )  # fmt: skip
    try:
        made = commit(store, proposal)
        return f"commit {node.number} by {said['by']} merged as commit {made}"
    except (ConflictError, RuleError) as error:
        conflict = error if isinstance(error, ConflictError) else ConflictError(error.message, error.problems, [])
        kept = pending.kept(store.blobs, proposal, conflict)
        return f"commit {node.number} by {said['by']} meets what others changed; kept as {kept.pending!r} to be decided"


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
