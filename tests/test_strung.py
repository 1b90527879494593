"""Paths in order: a run holds what a walk along the path meets, and sums over it are those of its elements."""

from __future__ import annotations

import numpy as np
from hypothesis import HealthCheck, given, settings
from plants import plants, tables_of
from pytest import approx

from fibrebook.plant import Network
from fibrebook.plant.network import CORE
from fibrebook.plant.path_order import Strung
from fibrebook.plant.walk import Start, path_through

SLOW = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@SLOW
@given(plants())
def test_a_run_is_the_walk_along_the_path(rows):
    """From either end, the vertices of a run are those that a walk meets, with the same joints between."""
    net = Network(tables_of(rows))
    strung = Strung(net)
    assert sorted(strung.vertex.tolist()) == list(range(net.n_vertices))
    for end in np.unique(net.paths.label[~net.paths.loops]).tolist():
        vertices, joints = strung.along(end)
        begin = next((s for s in (0, 1) if int(net.paths.final[2 * end + s]) >> 1 == end), 0)
        steps = path_through(net, Start(end, begin, ""))
        met = [s.vertex for s in steps if s.what in ("core end", "port", "interface", "loose end")]
        assert vertices.tolist() in (met, met[::-1])
        crossed = [s.row for s in steps if s.what == "core"]
        cores = [int(net.joints.row[j]) for j in joints if net.joints.what[j] == CORE]
        assert cores in (crossed, crossed[::-1])


@SLOW
@given(plants())
def test_sums_and_newest_over_a_run(rows):
    """The sum between the ends of a path is that of its joints, the newest is their greatest; paths do not mix."""
    net = Network(tables_of(rows))
    strung = Strung(net)
    value = np.arange(1.0, len(net.joints) + 1)
    running = strung.of_joints(value)
    ports = strung.of_vertices(np.ones(net.n_vertices))
    for end in np.unique(net.paths.label[~net.paths.loops]).tolist():
        first, last = strung.run(end)
        mine = value[net.joint_path == net.paths.label[end]]
        assert running[last] - running[first] == approx(mine.sum())
        a, b = strung.between(strung.vertex[[first]], strung.vertex[[last]])
        assert (a[0], b[0]) == (first, last)
        newest = strung.newest(value, a, b)[0]
        assert newest == (mine.max() if len(mine) else -np.inf)
        if last > first:
            assert ports[last] - ports[first + 1] == last - first - 1
    if net.n_vertices > 1:
        labels = strung.label
        apart = np.flatnonzero(labels != labels[0])
        if len(apart):
            assert strung.between(np.array([0]), apart[:1])[0][0] == -1
