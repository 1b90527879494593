"""Where light goes from one multimode core into another that differs: the only loss that depends on the direction.

Single-mode fibres of different mode field lose alike both ways, and the published limit of a connection or splice
holds that already (IEC 61755-1: grades are of two populations mated at random), so nothing is added for them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fibrebook.light.multimode import multimode_aperture_mismatch_db, multimode_core_mismatch_db
from fibrebook.plant.network import CORE, PATCH, SPLICE, Network
from fibrebook.plant.path_order import Strung
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.reference.fibres import aperture_of, core_um_of, mode_of
from fibrebook.reference.firm import PUBLISHED, FirmValues

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


def class_mismatch_db(from_class: str, to_class: str, *, values: FirmValues = PUBLISHED) -> float:
    """Return the worst loss [dB] of going from one multimode class into another; 0 where either is not multimode."""
    if mode_of(from_class, values=values) != "multimode" or mode_of(to_class, values=values) != "multimode":
        return 0.0
    cores = core_um_of(from_class, values=values), core_um_of(to_class, values=values)
    apertures = aperture_of(from_class, values=values), aperture_of(to_class, values=values)
    if None in cores or None in apertures:
        return 0.0
    return float(multimode_core_mismatch_db(*cores)) + float(multimode_aperture_mismatch_db(*apertures))  # type: ignore[arg-type]


def mismatch_table(names: Sequence[str], *, values: FirmValues = PUBLISHED) -> Floats | None:
    """Return the loss from each class (row) into each (column) [dB]; None where no two of them differ."""
    each = [class_mismatch_db(a, b, values=values) for a in names for b in names]
    table = np.array(each).reshape(len(names), len(names))
    return table if table.any() else None


class Mismatches(NamedTuple):
    """Places where unlike cores meet on a path, in the order of the string.

    first, second : place where each of the two fibres begins; label : of the path; loss_db : shape (n, 2), light going
    away from the label, light going to it
    """

    first: Ints
    second: Ints
    label: Ints
    loss_db: Floats


def mismatches_of(
    net: Network, strung: Strung, table: Floats, cable_class: Ints, cord_class: Ints, splice_measured: Bools
) -> Mismatches:
    """Return where unlike cores meet and what is lost there. A loop has no order, and none is told of it.

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
    label = strung.label[strung.vertex[at]]
    differ = np.flatnonzero((label[1:] == label[:-1]) & (along[at[1:]] != along[at[:-1]]))
    between = np.append(strung.joint, -1)[at[differ] + 1]
    splice = np.append(joints.what, -1)[between] == SPLICE
    row = np.append(joints.row, 0)[between]
    measured = splice & (np.append(splice_measured, False)[np.where(splice, row, -1)])
    differ = differ[~measured]
    one, other = along[at[differ]], along[at[differ + 1]]
    loss_db = np.stack([table[one, other], table[other, one]], axis=1).reshape(-1, 2)
    return Mismatches(at[differ], at[differ + 1], label[differ], loss_db)
