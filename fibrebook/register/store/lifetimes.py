"""How long each file was part of the register: from which commit to which its state held it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from fibrebook.register.store.log import Log
from fibrebook.register.store.state import FileRef, Json, State

Place = tuple[str, str]  # table, segment


@dataclass(frozen=True, slots=True)
class Span:
    """A segment file, and the first and the last commit whose state holds it without a break between."""

    ref: FileRef
    first: int
    last: int

    def meets(self, commits: list[int]) -> bool:
        """Tell whether one of some commits (in rising order) lies within."""
        at = bisect_left(commits, self.first)
        return at < len(commits) and commits[at] <= self.last


def lifetimes(log: Log, newest: int) -> list[Span]:
    """Return the spans of all segment files up to a commit, by one walk along the commits.

    Each commit is looked at for what it changed alone, so twice as many commits cost twice as much.
    """
    found: list[Span] = []
    held: dict[Place, tuple[FileRef, int]] = {}
    for content, state in log.walk(newest):
        for place in _touched(content, state, held):
            ref = state.segments.get(place[0], {}).get(place[1])
            before = held.get(place)
            if before is not None and before[0] == ref:
                continue
            if before is not None:
                found.append(Span(before[0], before[1], state.commit - 1))
                del held[place]
            if ref is not None:
                held[place] = ref, state.commit
    return found + [Span(ref, first, newest) for ref, first in held.values()]


def _touched(content: Json, state: State, held: Collection[Place]) -> Iterator[Place]:
    """Give the places that a commit may have changed; a checkpoint or a replacement may have changed any."""
    if "checkpoint" in content or content.get("replaced"):
        yield from {*held, *((t, s) for t, files in state.segments.items() for s in files)}
    else:
        yield from ((t, s) for t, files in content["segments"].items() for s in files)
