"""Where light goes from one multimode core into another that differs: the only loss that depends on the direction.

Single-mode fibres of different mode field lose alike both ways, and the published limit of a connection or splice
holds that already (IEC 61755-1: grades are of two populations mated at random), so nothing is added for them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from fibrebook.light.multimode import multimode_aperture_mismatch_db, multimode_core_mismatch_db
from fibrebook.plant.network import CORE, PATCH, SPLICE, Network
from fibrebook.plant.strung import Strung
from fibrebook.records.ends import Ints
from fibrebook.reference.fibres import aperture_of, core_um_of, mode_of

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


def class_mismatch_db(from_class: str, to_class: str) -> float:
    """Return the worst loss [dB] of going from one multimode class into another; 0 where either is not multimode."""
    if mode_of(from_class) != "multimode" or mode_of(to_class) != "multimode":
        return 0.0
    cores = core_um_of(from_class), core_um_of(to_class)
    apertures = aperture_of(from_class), aperture_of(to_class)
    if None in cores or None in apertures:
        return 0.0
    return float(multimode_core_mismatch_db(*cores)) + float(multimode_aperture_mismatch_db(*apertures))  # type: ignore[arg-type]


def mismatch_table(names: Sequence[str]) -> Floats | None:
    """Return the loss from each class (row) into each (column) [dB]; None where no two of them differ."""
    table = np.array([[class_mismatch_db(a, b) for b in names] for a in names]).reshape(len(names), len(names))
    return table if table.any() else None


def mismatch_by_path(
    net: Network, strung: Strung, table: Floats, cable_class: Ints, cord_class: Ints, splice_measured: Bools
) -> Floats:
    """Return the mismatch loss of every path, shape (vertices, 2): light going away from the label, light going to it.

    Parameters
    ----------
    table : loss from class into class, as `mismatch_table` returns it
    cable_class, cord_class : each row's class, as a number into `table`
    splice_measured : per splice row; a splice that was measured has its mismatch in its figure already
    """
    joints = net.joints
    klass = np.full(len(joints), -1, np.int64)
    for what, of_row in ((CORE, cable_class[net.ends.core_cable]), (PATCH, cord_class)):
        mine = joints.what == what
        klass[mine] = of_row[joints.row[mine]]
    along = np.append(klass, -1)[strung.joint]
    at = np.flatnonzero(along >= 0)  # places where a core or a cord begins
    if len(at) < 2:
        return np.zeros((net.n_vertices, 2))
    label = strung.label[strung.vertex[at]]
    differ = np.flatnonzero((label[1:] == label[:-1]) & (along[at[1:]] != along[at[:-1]]))
    between = np.append(strung.joint, -1)[at[differ] + 1]
    splice = np.append(joints.what, -1)[between] == SPLICE
    row = np.append(joints.row, 0)[between]
    measured = splice & (np.append(splice_measured, False)[np.where(splice, row, -1)])
    differ = differ[~measured]
    one, other = along[at[differ]], along[at[differ + 1]]
    out = np.zeros((net.n_vertices, 2))
    np.add.at(out[:, 0], label[differ], table[one, other])
    np.add.at(out[:, 1], label[differ], table[other, one])
    return out
