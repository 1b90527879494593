"""The plant as one network: every joint of the records with its two darts, and the paths they make."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.plant.solve import Paths, double_use, solve
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.records.references.reference_index import FRONT, REAR, Ends

CORE, SPLICE, TERMINATION, PATCH = range(4)
JOINTS = ("core", "splice", "termination", "patch")
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Joints:
    """All joints: the darts they take, what they are (CORE, SPLICE, TERMINATION, PATCH) and their row there."""

    u: Ints
    v: Ints
    what: npt.NDArray[np.int8]
    row: Ints

    def __len__(self) -> int:
        return len(self.u)

    def only(self, mask: Flags) -> Joints:
        """The joints that a mask picks."""
        return Joints(self.u[mask], self.v[mask], self.what[mask], self.row[mask])


@dataclass(frozen=True)
class Network:
    """Everything joined to everything, for one site or for all of them: the input of every answer.

    `tables` are the records by kind; `cores` holds only rows that say something of a core. References that find nothing
    are left out (the hard rules keep them out of a register); joints that take a slot already taken are left out too
    and stand in `double_use`.
    """

    tables: Mapping[str, pa.Table]

    @cached_property
    def ends(self) -> Ends:
        """References as integers."""
        return Ends(self.tables)

    # --- vertices ----------------------------------------------------------------------------------------------------
    @cached_property
    def first_loose(self) -> int:
        """First vertex that is a loose end of a cord (patch rows with a blank end b)."""
        return self.ends.first_plug + self.ends.n_plugs

    @cached_property
    def first_interface(self) -> int:
        """First vertex that is an interface position."""
        return self.ends.first_plug + self.ends.n_ports

    @cached_property
    def loose_rows(self) -> Ints:
        """Patch row of each loose end."""
        (a, _), (b, _) = self.ends.patch_ends
        return np.flatnonzero((a >= 0) & (b < 0))

    @cached_property
    def n_vertices(self) -> int:
        """How many vertices there are."""
        return self.first_loose + len(self.loose_rows)

    def is_port(self, vertex: Ints) -> Flags:
        """Whether each vertex is a port position."""
        return (vertex >= self.ends.first_plug) & (vertex < self.first_interface)

    def is_interface(self, vertex: Ints) -> Flags:
        """Whether each vertex is an interface position."""
        return (vertex >= self.first_interface) & (vertex < self.first_loose)

    # --- joints ------------------------------------------------------------------------------------------------------
    @cached_property
    def _all_joints(self) -> Joints:
        e = self.ends
        core = np.arange(e.n_cores, dtype=np.int64)
        sa, sb = e.splice_ends
        t_end, (t_port, _) = e.termination_ends, e.termination_ports
        (pa_, _), (pb, _) = e.patch_ends
        pb = pb.copy()
        pb[self.loose_rows] = self.first_loose + np.arange(len(self.loose_rows))
        pairs = [  # both vertices with the slot taken there
            (2 * core, 0, 2 * core + 1, 0),
            (sa.vertex, 1, sb.vertex, 1),
            (t_end.vertex, 1, t_port, REAR),
            (pa_, FRONT, pb, FRONT),
        ]
        found = [np.flatnonzero((u >= 0) & (v >= 0)) for u, _, v, _ in pairs]
        return Joints(
            np.concatenate([2 * u[f] + su for f, (u, su, _, _) in zip(found, pairs, strict=True)]),
            np.concatenate([2 * v[f] + sv for f, (_, _, v, sv) in zip(found, pairs, strict=True)]),
            np.repeat(np.arange(4, dtype=np.int8), [len(f) for f in found]),
            np.concatenate(found),
        )

    @cached_property
    def double_use(self) -> list[tuple[str, int]]:
        """Joints left out because a slot of theirs was taken before, as (kind of joint, row)."""
        bad = double_use(self.n_vertices, self._all_joints.u, self._all_joints.v)
        return [(JOINTS[self._all_joints.what[i]], int(self._all_joints.row[i])) for i in bad]

    @cached_property
    def joints(self) -> Joints:
        """The joints that stand: no slot taken twice."""
        bad = double_use(self.n_vertices, self._all_joints.u, self._all_joints.v)
        if not len(bad):
            return self._all_joints
        keep = np.ones(len(self._all_joints), bool)
        keep[bad] = False
        return self._all_joints.only(keep)

    @cached_property
    def ordered_slots(self) -> tuple[Ints, Ints]:
        """Every joint's two slots in order, and the place of each among all u, then all v: to walk joint by joint."""
        slots = np.concatenate([self.joints.u, self.joints.v])
        order = np.argsort(slots, kind="stable")
        return slots[order], order

    @cached_property
    def paths(self) -> Paths:
        """Paths over every joint, from far end to far end."""
        return solve(self.n_vertices, self.joints.u, self.joints.v)

    @cached_property
    def made_off(self) -> Paths:
        """Paths over splices, terminations and sound cores only: where a core end is made off without any cord."""
        j = self.joints
        faulty_core = np.zeros(len(j), bool)
        faulty_core[: self.ends.n_cores] = self.faulty
        fixed = j.only((j.what != PATCH) & ~faulty_core)
        return solve(self.n_vertices, fixed.u, fixed.v)

    # --- what is said of cores ---------------------------------------------------------------------------------------
    @cached_property
    def said_core(self) -> Ints:
        """Core of each `cores` row (-1: no such core)."""
        t = self.ends.table("cores")
        return self.ends.core_ids(self.ends.site_ids("cores"), t["cable"], t["core"])[0]

    @cached_property
    def faulty(self) -> Flags:
        """Whether each core is said to be faulty."""
        return self._said("condition", "faulty")

    @cached_property
    def reserved(self) -> Flags:
        """Whether each core's own record reserves it."""
        flags = np.zeros(self.ends.n_cores, bool)
        named = ~self.ends.table("cores")["reserved_for"].is_null().to_numpy()
        flags[self.said_core[named & (self.said_core >= 0)]] = True
        return flags

    def _said(self, column: str, value: str) -> Flags:
        import pyarrow.compute as pc

        flags = np.zeros(self.ends.n_cores, bool)
        text = self.ends.table("cores")[column].cast(pa.string())
        hit = pc.equal(text, value).fill_null(False).to_numpy()
        flags[self.said_core[hit & (self.said_core >= 0)]] = True
        return flags

    # --- per path ----------------------------------------------------------------------------------------------------
    @cached_property
    def core_path(self) -> Ints:
        """Path label of each core."""
        return self.paths.label[0 : self.ends.first_plug : 2]

    @cached_property
    def joint_path(self) -> Ints:
        """Path label of each joint."""
        found: Ints = self.paths.label[self.joints.u >> 1]
        return found

    def on_path(self, joint_mask: Flags) -> Flags:
        """Per vertex used as path label: whether any picked joint lies on that path."""
        flags = np.zeros(self.n_vertices, bool)
        flags[self.joint_path[joint_mask]] = True
        return flags
