"""Which part of which path each test was made of, and what lies in it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.analyses.weights import Weights, text
from fibrebook.plant import Network
from fibrebook.plant.network import CORE, PATCH, SPLICE, TERMINATION
from fibrebook.records.ends import Ints

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
NO_DAY = -1  # a blank date


@dataclass(frozen=True)
class Spans:
    """One row a test. Places are those of `weights.strung`; -1 where a test names no stretch of one path."""

    weights: Weights
    tests: pa.Table

    @property
    def net(self) -> Network:
        """The network."""
        return self.weights.net

    @cached_property
    def ends(self) -> tuple[Ints, Ints]:
        """Vertices from which and to which each test was made: its ports, else the two ends of its core; -1 = none."""
        e, t = self.net.ends, self.tests
        site = e.site_labels.ids(t["site"])
        start, _ = e.plug_vertices(site, t["from_at"], t["from_port"], t["from_position"])
        stop, _ = e.plug_vertices(site, t["to_at"], t["to_port"], t["to_position"])
        core, _ = e.core_ids(site, t["cable"], t["core"])
        by_core = (start < 0) & (stop < 0) & (core >= 0)
        return np.where(by_core, 2 * core, start), np.where(by_core, 2 * core + 1, stop)

    @cached_property
    def places(self) -> tuple[Ints, Ints]:
        """First and last place of each test on the string."""
        return self.weights.strung.between(*self.ends)

    @property
    def known(self) -> Flags:
        """Whether each test's stretch is known."""
        return self.places[0] >= 0

    @cached_property
    def forward(self) -> Flags:
        """Whether the light of each test went with the order of the string."""
        start, stop = self.ends
        place = self.weights.strung.place
        with_order = place[start] <= place[stop]
        return with_order != (text(self.tests["direction"]) == "b to a")

    def _sum_of_joints(self, value: Floats) -> Floats:
        running = self.weights.strung.of_joints(value)
        first, last = self.places
        return np.where(self.known, running[last] - running[first], np.nan)

    @cached_property
    def splices(self) -> Floats:
        """Splices in each stretch, those of pigtails too."""
        joints = self.net.joints
        value = (joints.what == SPLICE).astype(np.float64)
        made = joints.what == TERMINATION
        value[made] = self.weights.has_pigtail[joints.row[made]]
        return self._sum_of_joints(value)

    @cached_property
    def inner_connections(self) -> Floats:
        """Connections strictly inside each stretch."""
        strung = self.weights.strung
        running = strung.of_vertices(self.net.is_port(np.arange(self.net.n_vertices)).astype(np.float64))
        first, last = self.places
        inside = running[last] - running[np.minimum(first + 1, last)]
        return np.where(self.known, inside, np.nan)

    @cached_property
    def port_ends(self) -> Ints:
        """How many of each test's two ends are ports."""
        start, stop = self.ends
        return self.net.is_port(start).astype(np.int64) + self.net.is_port(stop)

    @cached_property
    def metres(self) -> Floats:
        """Metres of each fibre class in each stretch, shape (tests, classes); NaN where a cable has no length."""
        w, joints = self.weights, self.net.joints
        core, cord = joints.what == CORE, joints.what == PATCH
        klass = np.zeros(len(joints), np.int64)
        length = np.zeros(len(joints))
        klass[core] = w.cable_class[self.net.ends.core_cable[joints.row[core]]]
        length[core] = w.core_length_m[joints.row[core]]
        klass[cord] = w.cord_class[joints.row[cord]]
        length[cord] = np.nan_to_num(w.cord_length_m[joints.row[cord]])
        out = np.zeros((self.tests.num_rows, len(w.class_names)))
        for k in np.unique(klass[core | cord]):
            mine = (klass == k) & (core | cord)
            out[:, k] = self._sum_of_joints(np.where(mine, np.nan_to_num(length), 0.0))
        unknown = self._sum_of_joints(np.isnan(length).astype(np.float64)) > 0
        out[unknown] = np.nan
        return out

    @cached_property
    def class_of(self) -> Ints:
        """A fibre class in each stretch (that with the most metres), as a number into the weights' names."""
        return np.nan_to_num(self.metres).argmax(axis=1)

    @cached_property
    def last_disturbed(self) -> Ints:
        """Newest day on which a joint or cord of each stretch was made; NO_DAY where none is recorded."""
        joints, e = self.net.joints, self.net.ends
        day = np.full(len(joints), -np.inf)
        for what, kind, column in (
            (SPLICE, "splices", "made_on"), (TERMINATION, "terminations", "made_on"), (PATCH, "patches", "fitted_on"),
        ):  # fmt: skip
            mine = joints.what == what
            days = days_of(e.table(kind)[column]).astype(np.float64)
            day[mine] = np.where(days < 0, -np.inf, days)[joints.row[mine]]
        newest = self.weights.strung.newest(day, *self.places)
        return np.where(np.isinf(newest), NO_DAY, np.nan_to_num(newest, neginf=NO_DAY)).astype(np.int64)


def days_of(column: pa.ChunkedArray) -> Ints:
    """Days since 1970 of a date column; NO_DAY where blank."""
    return column.cast(pa.int32()).cast(pa.int64()).fill_null(NO_DAY).to_numpy()
