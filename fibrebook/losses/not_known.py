"""What a path's loss lacks, in words: a total that lacks something is "at least", with what it lacks beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from fibrebook.plant.network import PATCH
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.words.labels import natural
from fibrebook.words.lists import both, first_few

if TYPE_CHECKING:
    from fibrebook.losses.path_losses import Floats, PathLosses
    from fibrebook.losses.table import LossTable

MOST = 6  # names in one text; more than that are told by dots


def not_known(table: LossTable, path: Ints, wavelength_nm: Floats, losses: PathLosses) -> list[str]:
    """Return for each row what has no figure: "length of C1 and C2; fibre class of C7"; "" where nothing lacks.

    Parameters
    ----------
    path : labels; wavelength_nm : [nm]; losses : what `of_paths` gave for them
    """
    out = [""] * len(path)
    rows = np.flatnonzero(losses.at_least)
    if not len(rows):
        return out
    teller, told = _Teller(table), {}
    tested = _tested(table, losses, rows)
    for row in rows.tolist():
        key = (int(path[row]), float(wavelength_nm[row]), tested.get(row, ()))
        if key not in told:
            told[key] = teller.words(*key)
        out[row] = told[key]
    return out


def _tested(table: LossTable, losses: PathLosses, rows: Ints) -> dict[int, tuple[tuple[int, int], ...]]:
    """First and last place of each stretch that a test tells, by row."""
    out: dict[int, tuple[tuple[int, int], ...]] = {}
    if losses.tests is not None:
        mine = losses.tests.only(np.flatnonzero(np.isin(losses.tests.beam, rows) & ~losses.tests.stands))
        t = table.counted.columns
        columns = mine.beam, t.first[mine.test], t.last[mine.test]
        for row, first, last in zip(*(c.tolist() for c in columns), strict=True):
            out[row] = (*out.get(row, ()), (first, last))
    return out


class _Teller:
    """Finds the cores and cords of one path or another: each path is a slice of what was sorted once."""

    def __init__(self, table: LossTable) -> None:
        net = table.net
        self.table = table
        self.core = np.argsort(net.core_path, kind="stable")
        self.core_path = net.core_path[self.core]
        cord = np.flatnonzero(net.joints.what == PATCH)
        self.cord = cord[np.argsort(net.joint_path[cord], kind="stable")]
        self.cord_path = net.joint_path[self.cord]

    def words(self, path: int, wavelength_nm: float, tested: tuple[tuple[int, int], ...]) -> str:
        e, table = self.table.net.ends, self.table
        place, joint_at = table.strung.place, table.net.joints
        cores = self.core[slice(*np.searchsorted(self.core_path, [path, path + 1]))]
        cores = cores[_outside(place[2 * cores], place[2 * cores + 1], tested)]
        cable = e.core_cable[cores]
        klass = table.elements.cable_class[cable]
        no_length, no_class = np.isnan(table.elements.core_length_m[cores]), klass == 0
        no_figure = np.isnan(table.db_per_km(wavelength_nm))
        joints = self.cord[slice(*np.searchsorted(self.cord_path, [path, path + 1]))]
        joints = joints[_outside(place[joint_at.u[joints] >> 1], place[joint_at.v[joints] >> 1], tested)]
        cord = joint_at.row[joints]
        long = table.elements.cord_length_m[cord] > 0
        cord_class = table.elements.cord_class[cord]
        strange = {int(k) for k in (*klass[no_figure[klass]], *cord_class[long & no_figure[cord_class]]) if k > 0}
        return "; ".join(
            f"{what} of {both(names) if len(names) <= MOST else first_few(names, MOST)}{where}"
            for what, names, where in (
                ("length", self._labels("cables", "cable", cable[no_length]), ""),
                (
                    "fibre class",
                    self._labels("cables", "cable", cable[no_class])
                    + self._labels("patches", "cord", cord[long & (cord_class == 0)]),
                    "",
                ),
                ("attenuation", sorted(table.class_names[k] for k in strange), f" at {wavelength_nm:g} nm"),
            )
            if names
        )

    def _labels(self, kind: str, column: str, rows: Ints) -> list[str]:
        labels = self.table.net.ends.table(kind)[column]
        return sorted({str(labels[r].as_py()) for r in np.unique(rows).tolist()}, key=natural)


def _outside(one: Ints, other: Ints, tested: tuple[tuple[int, int], ...]) -> npt.NDArray[np.bool_]:
    """Which joints between two places each lie in no stretch that a test tells."""
    out = np.ones(len(one), bool)
    for first, last in tested:
        out &= (np.minimum(one, other) < first) | (np.maximum(one, other) > last)
    return out
