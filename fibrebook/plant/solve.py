"""Label every path at once: pointer jumping over the joints, in plain array passes.

A *dart* is a vertex left by one of its two slots (dart = 2 * vertex + slot). Each dart points to the dart by which the
vertex across the joint is left again; squaring that pointer doubles the distance, so a path of a million joints takes
twenty passes. A dart that stands still is the end of a path; a way that never comes to one is a loop.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Darts = npt.NDArray[np.int32]


@dataclass(frozen=True)
class Paths:
    """Far ends of every vertex both ways.

    step : per dart, the dart by which the next vertex is left again (itself where nothing is joined)
    final : per dart, the dart at which the way out of it ends (on a loop: some dart of the loop)
    """

    step: Darts
    final: Darts

    def far(self, vertex: Ints, slot: int) -> Ints:
        """Vertex met last when leaving `vertex` by `slot`; the vertex itself where nothing is joined there."""
        return self.final[2 * vertex + slot].astype(np.int64) >> 1

    @cached_property
    def loops(self) -> npt.NDArray[np.bool_]:
        """Whether each vertex lies on a loop: its way never comes to a dart that stands still."""
        out = self.final[0::2]
        found: npt.NDArray[np.bool_] = self.step[out] != out
        return found

    @cached_property
    def label(self) -> Ints:
        """Path of every vertex, as the smaller of its two end vertices (on a loop: its smallest vertex)."""
        ends = (self.final >> 1).astype(np.int64)
        label = np.minimum(ends[0::2], ends[1::2])
        for start in np.flatnonzero(self.loops).tolist():  # loops are mistakes of the records: few and short
            label[start] = min(self.ring(start))
        return label

    def ring(self, vertex: int) -> list[int]:
        """Vertices of the loop through `vertex`, in order."""
        dart, seen = 2 * vertex, []
        while True:
            seen.append(dart >> 1)
            dart = int(self.step[dart])
            if dart >> 1 == vertex:
                return seen


def double_use(vertices: int, darts_u: Ints, darts_v: Ints) -> Ints:
    """Return the numbers of the joints that use a slot another joint has taken before (empty = all is well)."""
    both = np.concatenate([darts_u, darts_v])
    if not len(both) or np.bincount(both, minlength=2 * vertices).max() < 2:
        return np.empty(0, np.int64)
    order = np.argsort(np.tile(np.arange(len(darts_u)), 2), kind="stable")
    _, first = np.unique(both[order], return_index=True)
    kept = np.zeros(len(both), bool)
    kept[order[first]] = True
    return np.flatnonzero(~(kept[: len(darts_u)] & kept[len(darts_u) :]))


def solve(vertices: int, darts_u: Ints, darts_v: Ints) -> Paths:
    """Find the far ends of every vertex.

    Parameters
    ----------
    vertices : how many vertices there are
    darts_u, darts_v : the two darts of each joint (2 * vertex + slot taken); no dart may stand twice

    Returns
    -------
    Paths; a self-joint (both darts of one vertex) is a loop
    """
    step = np.arange(2 * vertices, dtype=np.int32)
    step[darts_u] = darts_v ^ 1
    step[darts_v] = darts_u ^ 1
    final = step.copy()
    active = np.concatenate([darts_u, darts_v]).astype(np.int32)
    for _ in range(max(1, int(2 * vertices).bit_length())):
        across = final[active]
        beyond = final[across]
        moved = beyond != across
        active, beyond = active[moved], beyond[moved]
        if not len(active):
            break
        final[active] = beyond
    return Paths(step, final)
