"""One path's loss, part by part in the order in which light meets it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fibrebook.losses.by_tests.chosen import chosen_tests
from fibrebook.losses.elements import CATALOGUE, MEASURED, Losses
from fibrebook.plant.walk import Step

if TYPE_CHECKING:
    from fibrebook.losses.table import LossTable

NO_LENGTH, NO_CLASS, NO_FIGURE = (
    "has no length", "has no fibre class", "has a fibre class of which no attenuation is known"
)  # fmt: skip
NOWHERE = float("nan")


class Part(NamedTuple):
    """One part of a path's loss.

    kind : core, cord, splice, pigtail splice, connection, mismatch, test; row : in its own table (core: number of the
    core; mismatch: that of the core or cord that the light goes into, `of` tells which; test: row of
    `CountedTests.tests`). What a test tells as a whole has no part of its own
    step : place among the steps of the element it is told at (a mismatch: the splice or port where it happens; a
    pigtail splice: its port; a test: the last element of its stretch)
    loss_db : [dB], NaN where there is no figure, and `lacks` says why; length_m : of fibre, NaN where not known
    """

    kind: str
    row: int
    step: int
    loss_db: float
    basis: int = CATALOGUE
    length_m: float = NOWHERE
    fibre_class: str = ""
    from_class: str = ""
    of: str = ""
    lacks: str = ""


def parts_of(table: LossTable, steps: Sequence[Step], wavelength_nm: float) -> list[Part]:
    """Return the parts of the loss of a path whose steps are given, light going from the first to the last."""
    return list(_Walk(table, wavelength_nm, tests_along(table, steps, wavelength_nm)).parts(steps))


class Told(NamedTuple):
    """A stretch of one path that a test tells as a whole: from a step to a step, which are vertices.

    test : row of `CountedTests.columns`; loss_db : [dB]; at_first, at_last : whether the connection there is in it
    other_way : the test was made the other way; over_db : how much more than the records it says
    failed : the test failed; stands : and yet the records say that more is lost, so their figures stay
    """

    first: int
    last: int
    test: int
    loss_db: float
    at_first: bool
    at_last: bool
    other_way: bool
    over_db: float
    failed: bool
    stands: bool


def tests_along(table: LossTable, steps: Sequence[Step], wavelength_nm: float) -> list[Told]:
    """Return the tests that count on the path whose steps are given, in the order in which light meets them."""
    place = table.strung.place
    begin, end = int(place[steps[0].vertex]), int(place[steps[-1].vertex])
    label = table.strung.label[[steps[0].vertex]]
    if not len(table.counted.columns.row) or begin == end:
        return []
    forward = begin < end
    found = chosen_tests(table.counted, label, np.array([forward]), np.array([wavelength_nm], np.float64))
    t, out = table.counted.columns, []
    for test, loss_db, over_db, other_way, stands in zip(
        *(c.tolist() for c in (found.test, found.loss_db, found.over_db, found.other_way, found.stands)), strict=True
    ):
        ends = [(int(t.first[test]), bool(t.at_first[test])), (int(t.last[test]), bool(t.at_last[test]))]
        (first, at_first), (last, at_last) = ends if forward else ends[::-1]
        near, far = 2 * abs(first - begin), 2 * abs(last - begin)
        failed = bool(t.failed[test])
        out.append(Told(near, far, test, loss_db, at_first, at_last, other_way, over_db, failed, stands))
    return sorted(out)


class _Walk:
    """Goes along the steps; remembers the fibre met last, and whether the splice behind it was measured."""

    def __init__(self, table: LossTable, wavelength_nm: float, tests: Sequence[Told]) -> None:
        self.table, self.elements = table, table.elements
        self.tests = [test for test in tests if not test.stands]
        self.told_by: dict[int, int] = {}  # the step of a joint, or of a port as a connection: number of its test
        self.last_told = -1
        self.db_per_km = table.db_per_km(wavelength_nm)
        self.last_class, self.spliced_measured, self.joint_at = -1, False, 0

    def parts(self, steps: Sequence[Step]) -> Iterator[Part]:
        ending = {}
        for number, test in enumerate(self.tests):
            inside = range(test.first + (not test.at_first), test.last + test.at_last)
            self.told_by |= dict.fromkeys(inside, number)
            ending[test.last] = test
        for at, step in enumerate(steps):
            if at in ending:
                yield self._test(ending[at], at if step.what == "port" else at - 1)
            parts = self._of_step(steps, at, step)
            yield from parts if at not in self.told_by else (p for p in parts if p.kind == "mismatch")

    def _test(self, test: Told, at: int) -> Part:
        row = int(self.table.counted.columns.row[test.test])
        return Part("test", row, at, test.loss_db, MEASURED)

    def _of_step(self, steps: Sequence[Step], at: int, step: Step) -> Iterator[Part]:
        if step.what == "core":
            cable = int(self.table.net.ends.core_cable[step.row])
            length_m = float(self.elements.core_length_m[step.row])
            yield from self._fibre("core", step.row, at, int(self.elements.cable_class[cable]), length_m)
        elif step.what == "patch":
            # a cord of unknown length is short: its fibre counts for nothing
            length_m = float(self.elements.cord_length_m[step.row])
            yield from self._fibre("cord", step.row, at, int(self.elements.cord_class[step.row]), length_m)
        elif step.what == "splice":
            self.spliced_measured = bool(self.elements.splices.basis[step.row] == MEASURED)
            self.joint_at = at
            yield self._joint("splice", step.row, at, self.elements.splices)
        elif step.what == "termination" and self.elements.has_pigtail[step.row]:
            yield self._joint("pigtail splice", step.row, _port_beside(steps, at), self.elements.pigtail_splices)
        elif step.what == "port":
            self.joint_at = at
            if self.elements.mated[step.row]:
                yield self._joint("connection", step.row, at, self.elements.connections)

    def _joint(self, kind: str, row: int, at: int, losses: Losses) -> Part:
        return Part(kind, row, at, float(losses.loss_db[row]), int(losses.basis[row]))

    def _fibre(self, kind: str, row: int, at: int, klass: int, length_m: float) -> Iterator[Part]:
        names, between = self.table.class_names, self.table.mismatch_between
        told = self.told_by.get(at, -1)
        whole = told >= 0 and told == self.last_told  # both fibres lie in what one test tells
        if self.last_class >= 0 and between is not None and not self.spliced_measured and not whole:
            lost = float(between[self.last_class, klass])
            if lost > 0:
                yield Part(
                    "mismatch", row, self.joint_at, lost, fibre_class=names[klass], from_class=names[self.last_class],
                    of=kind,
                )  # fmt: skip
        self.last_class, self.last_told, self.spliced_measured = klass, told, False
        known_m = 0.0 if np.isnan(length_m) and kind == "cord" else length_m
        loss_db = 0.0 if known_m == 0 else float(known_m * self.db_per_km[klass] / 1000.0)
        lacks = NO_LENGTH if np.isnan(known_m) else ""
        if not lacks and not names[klass] and (kind == "core" or known_m > 0):
            loss_db, lacks = NOWHERE, NO_CLASS
        if not lacks and np.isnan(loss_db):
            lacks = NO_FIGURE
        yield Part(kind, row, at, loss_db, CATALOGUE, length_m, names[klass], lacks=lacks)


def _port_beside(steps: Sequence[Step], at: int) -> int:
    """Place of the port that a termination belongs to: the vertex before it, or the one behind."""
    return at - 1 if at and steps[at - 1].what == "port" else at + 1
