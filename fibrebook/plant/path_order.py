"""Every path as a run of vertices in order, so that what lies between two of them is one slice.

A sum between two positions of a path is a difference of running sums; the newest day between them is one reduceat.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from fibrebook.plant.network import Network
from fibrebook.plant.solve import Paths
from fibrebook.records.references.labels_as_numbers import Ints

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Strung:
    """All vertices, path by path, each path from its label (the smaller of its end vertices) to its other end.

    Vertices on a loop stand each for itself: a loop has no order.
    """

    net: Network

    @cached_property
    def vertex(self) -> Ints:
        """Vertex at each place of the string."""
        return np.lexsort((self._hops, self.label))

    @cached_property
    def place(self) -> Ints:
        """Place of each vertex on the string."""
        place = np.empty(self.net.n_vertices, np.int64)
        place[self.vertex] = np.arange(self.net.n_vertices)
        return place

    @cached_property
    def label(self) -> Ints:
        """Path of each vertex; a vertex on a loop is a path of its own."""
        return np.where(self.net.paths.loops, np.arange(self.net.n_vertices), self.net.paths.label)

    @cached_property
    def joint(self) -> Ints:
        """Joint from each place to the next one; -1 at the end of a path."""
        joints = self.net.joints
        u, v = self.place[joints.u >> 1], self.place[joints.v >> 1]
        # a loop's joints are left out: its vertices are not in order
        good = np.flatnonzero((np.abs(u - v) == 1) & ~self.net.paths.loops[joints.u >> 1])
        out = np.full(self.net.n_vertices, -1, np.int64)
        out[np.minimum(u, v)[good]] = good
        return out

    @cached_property
    def _hops(self) -> Ints:
        """Joints between each vertex and the label of its path."""
        net = self.net
        vertex = np.arange(net.n_vertices)
        to_label = (net.paths.final[0::2].astype(np.int64) >> 1) == net.paths.label
        dart = 2 * vertex + np.where(to_label, 0, 1)
        return np.where(net.paths.loops, 0, steps_to_end(net.paths)[dart])

    def between(self, one: Ints, other: Ints) -> tuple[Ints, Ints]:
        """First and last place of the run between two vertices of one path; both -1 where they are not on one path."""
        a, b = self.place[one], self.place[other]
        same = (one >= 0) & (other >= 0) & (self.label[one] == self.label[other])
        return np.where(same, np.minimum(a, b), -1), np.where(same, np.maximum(a, b), -1)

    def of_joints(self, value: Floats) -> Floats:
        """Running sum over the string of a value per joint: the sum from place a to place b is s[b] - s[a]."""
        steps = np.where(self.joint >= 0, np.append(value, 0.0)[self.joint], 0.0)
        return np.concatenate([[0.0], np.cumsum(steps)])[:-1]

    def of_vertices(self, value: Floats) -> Floats:
        """Running sum of a value per vertex: the sum strictly between places a and b is s[b] - s[a + 1]."""
        return np.concatenate([[0.0], np.cumsum(value[self.vertex])])

    def newest(self, value: Floats, first: Ints, last: Ints) -> Floats:
        """Greatest value of the joints from a first to a last place each; -inf where there is none."""
        out = np.full(len(first), -np.inf)
        good = np.flatnonzero((first >= 0) & (last > first))
        if len(good):
            steps = np.append(np.where(self.joint >= 0, np.append(value, -np.inf)[self.joint], -np.inf), -np.inf)
            pairs = np.stack([first[good], last[good]], axis=1).ravel()
            out[good] = np.maximum.reduceat(steps, pairs)[0::2]
        return out

    def run(self, vertex: int) -> tuple[int, int]:
        """First and last place of the path through a vertex."""
        own = self.label[vertex]
        last = np.searchsorted(self._labels, own, side="right")
        return int(np.searchsorted(self._labels, own)), int(last) - 1

    def runs(self, vertex: Ints) -> tuple[Ints, Ints]:
        """First and last place of the path through each of some vertices."""
        own = self.label[vertex]
        return np.searchsorted(self._labels, own), np.searchsorted(self._labels, own, side="right") - 1

    @cached_property
    def _labels(self) -> Ints:
        """Label at each place, which is in order."""
        return self.label[self.vertex]

    def along(self, vertex: int) -> tuple[Ints, Ints]:
        """Vertices of the path from one of its end vertices on, and the joints between them."""
        first, last = self.run(vertex)
        vertices, joints = self.vertex[first : last + 1], self.joint[first:last]
        return (vertices, joints) if vertices[0] == vertex else (vertices[::-1], joints[::-1])


def steps_to_end(paths: Paths) -> Ints:
    """Return how many joints lie between each dart and the end of its way; of no meaning on a loop."""
    nearer = paths.step.copy()
    count: Ints = (nearer != np.arange(len(nearer))).astype(np.int64)
    for _ in range(max(1, len(nearer).bit_length())):
        beyond = nearer[nearer]
        if (beyond == nearer).all():
            break
        count += count[nearer]
        nearer = beyond
    return count
