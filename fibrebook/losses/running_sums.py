"""Losses summed from the beginning of the string of all paths, so that a stretch's loss is a difference of two."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from fibrebook.losses.elements import BASES
from fibrebook.plant.network import CORE, PATCH, SPLICE, TERMINATION

if TYPE_CHECKING:
    from fibrebook.losses.table import LossTable

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class RunningSums:
    """Sums over the string: of joints s[b] - s[a] is from place a to b, of vertices s[b] - s[a + 1] between them."""

    table: LossTable

    @cached_property
    def metres(self) -> list[Floats]:
        """Metres of fibre by class; unknown lengths count as nothing."""
        net, e = self.table.net, self.table.elements
        klass, length = np.full(len(net.joints), -1, np.int64), np.zeros(len(net.joints))
        for what, of_row, metres in (
            (CORE, e.cable_class[net.ends.core_cable], e.core_length_m), (PATCH, e.cord_class, e.cord_length_m),
        ):  # fmt: skip
            mine = net.joints.what == what
            klass[mine], length[mine] = of_row[net.joints.row[mine]], np.nan_to_num(metres[net.joints.row[mine]])
        classes = range(len(self.table.class_names))
        return [self.table.strung.of_joints(np.where(klass == k, length, 0.0)) for k in classes]

    @cached_property
    def no_length(self) -> Floats:
        """Cores whose cable has no length."""
        return self._cores(np.isnan(self.table.elements.core_length_m))

    @cached_property
    def no_class(self) -> Floats:
        """Cores whose cable has no fibre class."""
        return self._cores(self.table.elements.cable_class[self.table.net.ends.core_cable] == 0)

    def _cores(self, which: npt.NDArray[np.bool_]) -> Floats:
        joints = self.table.net.joints
        value = np.zeros(len(joints))
        mine = joints.what == CORE
        value[mine] = which[joints.row[mine]]
        return self.table.strung.of_joints(value)

    @cached_property
    def splices(self) -> Floats:
        """How many splices, those of pigtails too."""
        joints = self.table.net.joints
        value = (joints.what == SPLICE).astype(np.float64)
        made = joints.what == TERMINATION
        value[made] = self.table.elements.has_pigtail[joints.row[made]]
        return self.table.strung.of_joints(value)

    @cached_property
    def splices_db(self) -> list[Floats]:
        """Loss of splices, those of pigtails too, by basis [dB]."""
        joints, e = self.table.net.joints, self.table.elements
        loss, basis = np.zeros(len(joints)), np.zeros(len(joints), np.int64)
        for what, of in ((SPLICE, e.splices), (TERMINATION, e.pigtail_splices)):
            mine = joints.what == what
            loss[mine], basis[mine] = of.loss_db[joints.row[mine]], of.basis[joints.row[mine]]
        return [self.table.strung.of_joints(np.where(basis == b, loss, 0.0)) for b in range(len(BASES))]

    @cached_property
    def ports(self) -> Floats:
        """How many ports."""
        net = self.table.net
        return self.table.strung.of_vertices(net.is_port(np.arange(net.n_vertices)).astype(np.float64))

    @cached_property
    def connections_db(self) -> list[Floats]:
        """Loss of connections by basis [dB]."""
        net, of = self.table.net, self.table.elements.connections
        out = []
        for b in range(len(BASES)):
            loss = np.zeros(net.n_vertices)
            loss[net.ends.first_plug : net.first_interface] = np.where(of.basis == b, of.loss_db, 0.0)
            out.append(self.table.strung.of_vertices(loss))
        return out

    @cached_property
    def mismatch_db(self) -> list[tuple[Floats, Floats]]:
        """What unlike cores lose, light going with the string and against it: sums by the first and the second fibre.

        Up to place p, the first tells those whose first fibre begins before p, the second those whose second does.
        """
        n, met, out = self.table.net.n_vertices, self.table.mismatches, []
        for way in (0, 1):
            sums = []
            for place in (met.first, met.second) if met is not None else ():
                each = np.bincount(place, met.loss_db[:, way], n).astype(np.float64)  # type: ignore[union-attr]
                sums.append(np.concatenate([[0.0], np.cumsum(each)]))
            out.append((sums[0], sums[1]) if sums else (np.zeros(n + 1), np.zeros(n + 1)))
        return out
