"""The joint that each event of an OTDR shot is of: the nearest one whose distance it can be, all events at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt
import pyarrow as pa
from numpy.typing import ArrayLike

from fibrebook.light.catalogue.values import Values
from fibrebook.losses.elements import text
from fibrebook.plant.network import CORE, PATCH, SPLICE
from fibrebook.records.references.labels_as_numbers import Ints

if TYPE_CHECKING:
    from fibrebook.losses.table import LossTable

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
LEAST_ERROR_M = 5.0  # events this near are a joint's however small the error reckoned (our own choice)
CONNECTION, SPLICED = range(2)
KINDS_OF_JOINT = ("connection", "splice")


class JointsOnString(NamedTuple):
    """Splices and ports in the order of the string.

    at : twice the place of a port, one more than twice that before a splice; kind : into KINDS_OF_JOINT
    row : of its own table; metres : of fibre from the beginning of the string
    """

    at: Ints
    kind: Ints
    row: Ints
    metres: Floats


@dataclass(frozen=True)
class ShotsAlong:
    """Metres of fibre along the string as an OTDR reads them, and the joints at them. A loop has no order and none."""

    losses: LossTable

    @cached_property
    def _lengths(self) -> tuple[Floats, Floats, Floats, Floats]:
        """By joint: metres of fibre, those not measured, whether slack may lie there, whether the length is unknown."""
        net, e = self.losses.net, self.losses.elements
        joints = net.joints
        helix = self.losses.values.practice("fibre longer than sheath") / 100.0
        measured = text(net.ends.table("cables")["length_basis"]) == "measured"
        metres, unmeasured, slack, unknown = (np.zeros(len(joints)) for _ in range(4))
        core, cord = joints.what == CORE, joints.what == PATCH
        row = joints.row[core]
        length, by_guess = e.core_length_m[row], ~measured[net.ends.core_cable[row]]
        fibre = np.nan_to_num(length) * np.where(by_guess, 1.0 + helix, 1.0)
        metres[core], unmeasured[core], slack[core] = fibre, np.where(by_guess, fibre, 0.0), by_guess
        unknown[core] = np.isnan(length)
        metres[cord] = np.nan_to_num(e.cord_length_m[joints.row[cord]])
        return metres, unmeasured, slack, unknown

    @cached_property
    def running(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Sums of those over the string."""
        metres, unmeasured, slack, unknown = (self.losses.strung.of_joints(each) for each in self._lengths)
        return metres, unmeasured, slack, unknown

    @cached_property
    def joints(self) -> JointsOnString:
        """Every splice and every port."""
        net, strung = self.losses.net, self.losses.strung
        after = np.append(net.joints.what, -1)[strung.joint] == SPLICE
        splice = np.flatnonzero(after)
        port = np.flatnonzero(net.is_port(strung.vertex))
        at = np.concatenate([2 * splice + 1, 2 * port])
        kind = np.repeat([SPLICED, CONNECTION], [len(splice), len(port)])
        row = np.concatenate([net.joints.row[strung.joint[splice]], strung.vertex[port] - net.ends.first_plug])
        order = np.argsort(at, kind="stable")
        return JointsOnString(at[order], kind[order], row[order], self.running[0][at[order] // 2])

    def ways(self, vertex: Ints, slot: Ints) -> tuple[Ints, Ints]:
        """Place from which and place to which the light of shots goes that leaves vertices by slots."""
        strung, joints = self.losses.strung, self.losses.net.joints
        place, dart = strung.place[vertex], 2 * vertex + slot
        ahead, behind = strung.joint[place], np.append(strung.joint, -1)[place - 1]
        u, v = (np.append(side, -1) for side in (joints.u, joints.v))
        forward = (u[ahead] == dart) | (v[ahead] == dart)
        backward = (u[behind] == dart) | (v[behind] == dart)
        first, last = strung.runs(vertex)
        return place, np.where(forward, last, np.where(backward, first, place))

    def without_length(self, vertex: Ints, slot: Ints) -> Ints:
        """Cables without a length on the way of shots (rows), in the order of the string."""
        begin, end = self.ways(vertex, slot)
        unknown = self.running[3]
        if not (np.abs(unknown[end] - unknown[begin]) > 0.5).any():
            return np.zeros(0, np.int64)
        net, strung = self.losses.net, self.losses.strung
        passed = np.zeros(net.n_vertices + 1, np.int64)
        np.add.at(passed, np.minimum(begin, end), 1)
        np.add.at(passed, np.maximum(begin, end), -1)
        joint = strung.joint[np.flatnonzero(np.cumsum(passed)[:-1] > 0)]
        core = net.joints.row[joint[(joint >= 0) & (np.append(net.joints.what, -1)[joint] == CORE)]]
        return np.asarray(net.ends.core_cable[core[np.isnan(self.losses.elements.core_length_m[core])]])

    def joint_of(self, vertex: Ints, slot: Ints, distance_m: Floats) -> Ints:
        """Row in `joints` of the joint that each event is of; -1 where none lies within the error of its distance.

        Parameters
        ----------
        vertex, slot : where the light of each event's shot went in, and the slot by which it leaves
        distance_m : of the event [m]

        Of two that are as near it is the one that light meets first. Behind a cable without length none is known.
        """
        j, values = self.joints, self.losses.values
        metres, unmeasured, slack, unknown = self.running
        begin, end = self.ways(vertex, slot)
        forward = end >= begin

        def between(sum_of: Floats, other: Ints, event: Ints | slice = slice(None)) -> Floats:
            return np.abs(sum_of[other] - sum_of[begin[event]])

        # no joint of the way has a greater error than one at its end
        most_m = np.maximum(off_m(values, distance_m, between(unmeasured, end), between(slack, end)), LEAST_ERROR_M)
        read_m = metres[begin] + np.where(forward, distance_m, -distance_m)
        most_m += 1e-6
        low = np.maximum(np.searchsorted(j.metres, read_m - most_m), np.searchsorted(j.at, 2 * np.minimum(begin, end)))
        high = np.minimum(
            np.searchsorted(j.metres, read_m + most_m, side="right"),
            np.searchsorted(j.at, 2 * np.maximum(begin, end), side="right"),
        )
        count = np.maximum(high - low, 0)
        event = np.repeat(np.arange(len(vertex)), count)
        joint = np.arange(len(event)) + np.repeat(low - (np.cumsum(count) - count), count)
        place = j.at[joint] // 2
        away_m = np.abs(distance_m[event] - between(metres, place, event))
        error_m = off_m(values, distance_m[event], between(unmeasured, place, event), between(slack, place, event))
        fits = (away_m <= np.maximum(error_m, LEAST_ERROR_M)) & (between(unknown, place, event) < 0.5)
        event, joint, away_m = event[fits], joint[fits], away_m[fits]
        nearest = np.lexsort((np.where(forward[event], joint, -joint), away_m, event))
        event, joint = event[nearest], joint[nearest]
        found = np.full(len(vertex), -1, np.int64)
        some, first = np.unique(event, return_index=True)
        found[some] = joint[first]
        return found


def off_m(values: Values, reading_m: ArrayLike, unmeasured_m: ArrayLike, slacks: ArrayLike) -> Floats:
    """Return what may be wrong at a reading [m]: root of the sum of squares of index, helix, slack and instrument."""
    parts = (
        values.practice("index uncertainty") / 100.0 * np.asarray(reading_m),
        values.practice("fibre longer than sheath spread") / 100.0 * np.asarray(unmeasured_m),
        values.practice("slack at an enclosure") * np.sqrt(slacks),
        values.practice("instrument distance"),
    )
    return np.asarray(np.sqrt(sum(np.square(part) for part in parts)))


def shot_starts(losses: LossTable, tests: pa.Table) -> Ints:
    """Vertex at which the light of each test went in: the end that its direction says, of its ports or its core; -1."""
    e = losses.net.ends
    site = e.site_labels.ids(tests["site"])
    backward = text(tests["direction"]) == "b to a"
    ends = [
        e.plug_vertices(site, *(tests[f"{end}_{c}"] for c in ("at", "port", "position")))[0] for end in ("from", "to")
    ]
    by_port = np.where(backward, ends[1], ends[0])
    named = np.where(backward, text(tests["to_at"]) != "", text(tests["from_at"]) != "")
    core = e.core_ids(site, tests["cable"], tests["core"])[0]
    by_core = np.where(core >= 0, 2 * core + backward, -1)
    return np.asarray(np.where(named, by_port, by_core))
