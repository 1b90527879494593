"""Which part of which path each test was made of, and what lies in it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.losses.elements import text
from fibrebook.losses.path_losses import TINY_M
from fibrebook.plant import Network
from fibrebook.plant.made_off import where_light_comes_out
from fibrebook.plant.network import PATCH, SPLICE, TERMINATION
from fibrebook.records.references.labels_as_numbers import Ints

if TYPE_CHECKING:
    from fibrebook.losses.table import LossTable

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
NO_DAY = -1  # a blank date


@dataclass(frozen=True)
class Spans:
    """One row a test. Places are those of `losses.strung`; -1 where a test names no stretch of one path."""

    losses: LossTable
    tests: pa.Table

    @property
    def net(self) -> Network:
        """The network."""
        return self.losses.net

    @cached_property
    def ends(self) -> tuple[Ints, Ints]:
        """Vertices from which and to which each test was made: its ports, else where its core comes out; -1 = none.

        However a stretch is named (by its ports, by a core, by a core and one port), it is the same one.
        """
        e, t = self.net.ends, self.tests
        site = e.site_labels.ids(t["site"])
        start, _ = e.plug_vertices(site, t["from_at"], t["from_port"], t["from_position"])
        stop, _ = e.plug_vertices(site, t["to_at"], t["to_port"], t["to_position"])
        core, _ = e.core_ids(site, t["cable"], t["core"])
        end_a, end_b = where_light_comes_out(self.losses.strung, core, days_of(t["tested_on"]), self.joint_day)
        unsaid = [t[at].is_null().to_numpy() for at in ("from_at", "to_at")]
        from_a = np.where(unsaid[0], (stop < 0) | (stop == end_b), start == end_a)  # else it went from end B
        one, other = np.where(from_a, end_a, end_b), np.where(from_a, end_b, end_a)
        fits = (core >= 0) & (unsaid[0] | (start == one)) & (unsaid[1] | (stop == other)) & (unsaid[0] | unsaid[1])
        return np.where(fits, one, start), np.where(fits, other, stop)

    @cached_property
    def places(self) -> tuple[Ints, Ints]:
        """First and last place of each test on the string."""
        return self.losses.strung.between(*self.ends)

    @property
    def known(self) -> Flags:
        """Whether each test's stretch is known."""
        return self.places[0] >= 0

    @cached_property
    def forward(self) -> Flags:
        """Whether the light of each test went with the order of the string."""
        start, stop = self.ends
        place = self.losses.strung.place
        with_order = place[start] <= place[stop]
        found: Flags = with_order != (text(self.tests["direction"]) == "b to a")
        return found

    def _between(self, running: Floats) -> Floats:
        first, last = self.places
        return np.where(self.known, running[last] - running[first], np.nan)

    @cached_property
    def splices(self) -> Floats:
        """Splices in each stretch, those of pigtails too."""
        return self._between(self.losses.running.splices)

    @cached_property
    def inner_connections(self) -> Floats:
        """Connections strictly inside each stretch."""
        running = self.losses.running.ports
        first, last = self.places
        return np.where(self.known, running[last] - running[np.minimum(first + 1, last)], np.nan)

    @cached_property
    def port_ends(self) -> Ints:
        """How many of each test's two ends are ports."""
        start, stop = self.ends
        return self.net.is_port(start).astype(np.int64) + self.net.is_port(stop)

    @cached_property
    def metres(self) -> Floats:
        """Metres of each fibre class in each stretch, shape (tests, classes); NaN where a cable has no length."""
        out = np.stack([self._between(m) for m in self.losses.running.metres], axis=1)
        out[self._between(self.losses.running.no_length) > 0.5] = np.nan
        return np.where(np.abs(out) < TINY_M, 0.0, out)

    @cached_property
    def class_of(self) -> Ints:
        """A fibre class in each stretch (that with the most metres), as a number into the table's names."""
        found: Ints = np.nan_to_num(self.metres).argmax(axis=1)
        return found

    @cached_property
    def joint_day(self) -> Floats:
        """Day on which each joint or cord was made; -inf where none is recorded."""
        joints, e = self.net.joints, self.net.ends
        day = np.full(len(joints), -np.inf)
        for what, kind, column in (
            (SPLICE, "splices", "made_on"), (TERMINATION, "terminations", "made_on"), (PATCH, "patches", "fitted_on"),
        ):  # fmt: skip
            mine = joints.what == what
            days = days_of(e.table(kind)[column]).astype(np.float64)
            day[mine] = np.where(days < 0, -np.inf, days)[joints.row[mine]]
        return day

    @cached_property
    def last_disturbed(self) -> Ints:
        """Newest day on which a joint or cord of each stretch was made; NO_DAY where none is recorded."""
        newest = self.losses.strung.newest(self.joint_day, *self.places)
        return np.where(np.isinf(newest), NO_DAY, np.nan_to_num(newest, neginf=NO_DAY)).astype(np.int64)

    @cached_property
    def tested_on(self) -> Ints:
        """Day of each test; one without a date counts as older than any joint that has one."""
        return np.maximum(days_of(self.tests["tested_on"]), 0)

    @property
    def out_of_date(self) -> Flags:
        """Whether a joint or cord of each stretch is of a later day than the test."""
        return np.asarray(self.last_disturbed > self.tested_on)


def days_of(column: pa.ChunkedArray) -> Ints:
    """Days since 1970 of a date column; NO_DAY where blank."""
    found: Ints = column.cast(pa.int32()).cast(pa.int64()).fill_null(NO_DAY).to_numpy()
    return found
