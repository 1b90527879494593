"""Which tests count: of each stretch, wavelength and direction the newest valid one, and what it says is lost.

A test is valid if it names a stretch of one path and a wavelength, has a loss that is not below nothing by more than
its uncertainty, and is not older than the stretch was last disturbed (the reckoning of `untested`). Single joints are
told by OTDR shots of both ways (`joint_means`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.losses.by_tests.joint_means import JointMeans, joint_means
from fibrebook.losses.by_tests.judged import FAIL, limit_parts, uncertainty_db, verdicts
from fibrebook.losses.elements import BASES, floats_or_nan, text
from fibrebook.losses.tested_stretches import Spans
from fibrebook.records.references.labels_as_numbers import Ints

if TYPE_CHECKING:
    from fibrebook.losses.table import LossTable

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


class StretchEnds(NamedTuple):
    """One end of each test.

    connection_db : what the path's own connection there loses by its record, 0 where the path has none
    basis : of that connection; row : of its port, -1 = no port
    counts : whether a reading can hold a connection there (an interface has none of its own)
    mated : whether the path has a connection there
    """

    connection_db: Floats
    basis: Ints
    row: Ints
    counts: Flags
    mated: Flags


class Columns(NamedTuple):
    """One row a test that counts, in the order of the paths.

    row : into `CountedTests.labels`; path : label; first, last : places; stretch : number of the stretch;
    forward : whether the light went with the order of the string; wavelength_nm : [nm]
    at_first, at_last : whether the path's own connection at that end is in the figure, and so is replaced too
    loss_db : what the test says the stretch and those connections lose; records_db : what the records say of them
    fibre_db, mismatch_db : what the records have of fibre and of unlike cores in it; lacks : a part has no figure
    length_m : of fibre as far as it is known, to a millimetre; day : of the test, as `Spans.tested_on`
    failed : by the limit of its own stretch, or by the record of whoever made it
    """

    row: Ints
    path: Ints
    first: Ints
    last: Ints
    stretch: Ints
    forward: Flags
    wavelength_nm: Floats
    at_first: Flags
    at_last: Flags
    loss_db: Floats
    records_db: Floats
    fibre_db: Floats
    mismatch_db: Floats
    lacks: Flags
    length_m: Floats
    day: Ints
    failed: Flags


class TestsRead(NamedTuple):
    """One row a test that counts, as it was read.

    row : into `CountedTests.labels`; first, last, forward, wavelength_nm, day, failed : as `Columns` has them
    ends, end_db : how many end connections the reference left in the reading, and what one not of the path may lose
    at_first, at_last : whether the connection there was measured, whatever the reference; loss_db : as read
    """

    row: Ints
    first: Ints
    last: Ints
    forward: Flags
    wavelength_nm: Floats
    ends: Floats
    end_db: Floats
    at_first: Flags
    at_last: Flags
    loss_db: Floats
    day: Ints
    failed: Flags


@dataclass(frozen=True)
class CountedTests:
    """The tests of a network that count: loss tests of stretches, and OTDR shots of both ways of single joints."""

    losses: LossTable

    @cached_property
    def tests(self) -> pa.Table:
        """Every loss test."""
        tests = self.losses.net.ends.table("tests")
        return tests.filter(pa.array(text(tests["method"]) == "loss test", pa.bool_()))

    @cached_property
    def spans(self) -> Spans:
        """Where each of them was made."""
        return Spans(self.losses, self.tests)

    @cached_property
    def means(self) -> JointMeans:
        """What OTDR shots of both ways tell of single joints."""
        return joint_means(self.losses)

    @cached_property
    def labels(self) -> pa.Array:
        """Labels of every loss test, then of every pair of shots."""
        return pa.concat_arrays([self.tests["test"].cast(pa.string()).combine_chunks(), self.means.label])

    @cached_property
    def columns(self) -> Columns:
        """Those that count, and what they say."""
        losses = self.losses
        both = zip(self._loss_tests(), self._joint_means(), strict=True)
        read = TestsRead(*(np.concatenate(pair) for pair in both))
        path = losses.strung.label[losses.strung.vertex[read.first]]
        found = losses.of_stretches(read.first, read.last, read.forward, read.wavelength_nm)
        a, b = self.end_at(read.first), self.end_at(read.last)
        at_first, at_last, off_db = held(a, b, read.ends, read.end_db)
        at_first, at_last = at_first | read.at_first, at_last | read.at_last
        records_db = found.loss_db + np.where(at_first, a.connection_db, 0.0) + np.where(at_last, b.connection_db, 0.0)
        read_db = np.maximum(read.loss_db, 0.0)
        # a connection may lose less than its limit: none is taken off that would bring the rest below its records
        least_db = np.minimum(read_db, np.maximum(records_db, 0.0))
        metres = sum((m[read.last] - m[read.first] for m in losses.running.metres), np.zeros(len(path)))
        columns = Columns(
            read.row, path, read.first, read.last,
            np.unique(read.first * losses.net.n_vertices + read.last, return_inverse=True)[1],
            read.forward, read.wavelength_nm, at_first, at_last,
            np.where(off_db > 0, np.maximum(read_db - off_db, least_db), read_db),
            records_db, found.fibre_db, found.mismatch_db, found.at_least, np.round(metres, 3), read.day, read.failed,
        )  # fmt: skip
        order = np.argsort(path, kind="stable")
        return Columns(*(column[order] for column in columns))  # type: ignore[arg-type]

    def _loss_tests(self) -> TestsRead:
        """The newest valid loss test of each stretch, wavelength and direction."""
        spans, losses = self.spans, self.losses
        parts, _ = limit_parts(spans, losses.values.acceptance_edition)
        sure_db, loss_db = uncertainty_db(spans), floats_or_nan(self.tests["loss_db"])
        nm = floats_or_nan(self.tests["wavelength_nm"])
        failed = verdicts(spans, parts, loss_db, sure_db)[0] == FAIL
        failed |= text(self.tests["verdict"]) == "fail"
        first, last = spans.places
        valid = spans.known & (last > first) & ~np.isnan(nm) & ~np.isnan(loss_db) & (loss_db >= -sure_db)
        # a wavelength is of no more than four digits
        kind = (first * losses.net.n_vertices + last) * 20_000 + 2 * np.nan_to_num(nm).astype(np.int64) + spans.forward
        row = newest(np.flatnonzero(valid & ~spans.out_of_date), kind, spans.tested_on)
        none = np.zeros(len(row), bool)
        return TestsRead(
            row, first[row], last[row], spans.forward[row], nm[row], parts["ends"][row], parts["end_db"][row],
            none, none, loss_db[row], spans.tested_on[row], failed[row],
        )  # fmt: skip

    def _joint_means(self) -> TestsRead:
        """Each mean of both ways as a test of either way."""
        m = self.means
        n = len(m.joint)
        twice = np.tile(np.arange(n), 2)
        none = np.zeros(2 * n)
        return TestsRead(
            self.tests.num_rows + twice, m.first[twice], m.last[twice], np.repeat([True, False], n),
            m.wavelength_nm[twice], none, none, m.at_first[twice], m.at_last[twice], m.loss_db[twice], m.day[twice],
            none > 0,
        )  # fmt: skip

    @cached_property
    def on_path(self) -> tuple[Ints, Ints]:
        """First test and number of tests of each path label."""
        count = np.bincount(self.columns.path, minlength=self.losses.net.n_vertices)
        return np.cumsum(count) - count, count

    def end_at(self, place: Ints) -> StretchEnds:
        """What is at the end of a stretch."""
        net, of = self.losses.net, self.losses.elements.connections
        vertex = self.losses.strung.vertex[place]
        is_port = net.is_port(vertex)
        row = np.where(is_port, vertex - net.ends.first_plug, -1)
        mated = is_port & np.append(self.losses.elements.mated, False)[row]
        return StretchEnds(
            np.where(mated, np.append(of.loss_db, 0.0)[row], 0.0),
            np.append(of.basis, len(BASES) - 1)[row],
            row,
            ~net.is_interface(vertex),
            mated,
        )


def held(one: StretchEnds, other: StretchEnds, ends: Floats, end_db: Floats) -> tuple[Flags, Flags, Floats]:
    """Tell which of the path's own end connections a reading holds, and what it holds that the path has not [dB].

    Parameters
    ----------
    one, other : the two ends; ends : how many end connections the reference left in the reading; end_db : what one that
    the path has not is taken to lose

    Where it holds one of two and nobody knows which, it is taken to be the one that leaves the path the greater loss.
    """
    of_one, of_other = (np.where(e.mated, e.connection_db, end_db) for e in (one, other))
    first = one.counts & (~other.counts | (of_one <= of_other))
    holds_one = (ends >= 2) & one.counts | (ends == 1) & first
    holds_other = (ends >= 2) & other.counts | (ends == 1) & ~first & other.counts
    off_db = np.where(holds_one & ~one.mated, end_db, 0.0) + np.where(holds_other & ~other.mated, end_db, 0.0)
    return holds_one & one.mated, holds_other & other.mated, off_db


def newest(rows: Ints, kind: Ints, day: Ints) -> Ints:
    """Return of some rows the newest of each kind; of one day the last."""
    order = np.lexsort((rows, day[rows], kind[rows]))
    kinds = kind[rows][order]
    last = np.ones(len(order), bool)
    last[:-1] = kinds[1:] != kinds[:-1]
    return np.sort(rows[order[last]])
