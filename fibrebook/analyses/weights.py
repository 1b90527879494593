"""What each path loses: the plant's joints weighed with the light's figures, summed by path in one pass each.

An element's loss is *measured*, else *recorded* (the splicer's estimate), else the *catalogue*'s limit. A connection is
a port with something plugged or made off on both sides; a spliced pigtail is one splice; plugs into equipment do not
count (channel of ISO/IEC 11801-1). Only fibre depends on the wavelength, so its metres are summed by class and weighed
when a wavelength is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.analyses.cross_reference import ports_of_core_ends
from fibrebook.analyses.mismatch import mismatch_by_path, mismatch_table
from fibrebook.light.catalogue import attenuation_db_per_km, connection_db, splice_db
from fibrebook.plant import Network
from fibrebook.plant.network import PATCH, SPLICE, TERMINATION
from fibrebook.plant.strung import Strung
from fibrebook.records.ends import Ints, Labels

MEASURED, RECORDED, CATALOGUE = range(3)
BASES = ("measured", "recorded", "catalogue")
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Losses:
    """Loss and basis (MEASURED, RECORDED, CATALOGUE) of elements [dB]."""

    loss_db: Floats
    basis: npt.NDArray[np.int64]


@dataclass(frozen=True)
class Weights:
    """Losses of a network by element and by path. Paths are told by their label (a vertex of theirs)."""

    net: Network

    # --- fibre -------------------------------------------------------------------------------------------------------
    @cached_property
    def _classes(self) -> Labels:
        return Labels()

    @cached_property
    def cable_class(self) -> Ints:
        """Fibre class of each cable row, as a number into `class_names`."""
        return self._classes.ids(self.net.ends.table("cables")["fibre_class"])

    @cached_property
    def port_class(self) -> Ints:
        """Fibre class behind each port: its own, else that of the cable made off on it."""
        e = self.net.ends
        own = self._classes.ids(e.table("ports")["fibre_class"])
        made_off = ports_of_core_ends(self.net)
        core_end = np.flatnonzero(made_off >= 0)
        of_cable = np.zeros(e.n_ports, np.int64)
        of_cable[made_off[core_end]] = self.cable_class[e.core_cable[core_end // 2]]
        return np.where(own > 0, own, of_cable)

    @cached_property
    def cord_class(self) -> Ints:
        """Fibre class of each patch row: that of the port at its a end, else at its b end."""
        (a, _), (b, _) = self.net.ends.patch_ends
        found = np.zeros(len(a), np.int64)
        for vertex in (b, a):
            port = self.net.is_port(vertex)
            klass = self.port_class[vertex[port] - self.net.ends.first_plug]
            found[np.flatnonzero(port)[klass > 0]] = klass[klass > 0]
        return found

    @property
    def class_names(self) -> list[str]:
        """Names of the fibre classes met; "" stands first."""
        _ = self.cable_class, self.port_class
        return self._classes.texts

    @cached_property
    def core_length_m(self) -> Floats:
        """Length of each core, that of its cable; NaN where it is not known."""
        return lengths_m(self.net.ends.table("cables")["length_m"])[self.net.ends.core_cable]

    @cached_property
    def cord_length_m(self) -> Floats:
        """Length of each patch row; NaN where it is not known."""
        return lengths_m(self.net.ends.table("patches")["length_m"])

    @cached_property
    def metres(self) -> Floats:
        """Metres of fibre by path label and class, shape (vertices, classes); unknown lengths count as nothing."""
        classes = len(self.class_names)
        at, metres = self._fibre_parts
        flat = np.bincount(at, np.nan_to_num(metres), self.net.n_vertices * classes).astype(np.float64)
        return flat.reshape(self.net.n_vertices, classes)

    @cached_property
    def present(self) -> npt.NDArray[np.bool_]:
        """Whether cores of a class lie on a path, shape (vertices, classes)."""
        flags = np.zeros((self.net.n_vertices, len(self.class_names)), bool)
        flags[self.net.core_path, self.cable_class[self.net.ends.core_cable]] = True
        return flags

    @cached_property
    def length_unknown(self) -> npt.NDArray[np.bool_]:
        """Per path label: whether a cable on it has no length."""
        flags = np.zeros(self.net.n_vertices, bool)
        flags[self.net.core_path[np.isnan(self.core_length_m)]] = True
        return flags

    @cached_property
    def _fibre_parts(self) -> tuple[Ints, Floats]:
        classes, net = len(self.class_names), self.net
        is_cord = net.joints.what == PATCH
        cord, label = net.joints.row[is_cord], net.joint_path[is_cord]
        at = np.concatenate(
            [
                net.core_path * classes + self.cable_class[net.ends.core_cable],
                label * classes + self.cord_class[cord],
            ]
        )
        return at, np.concatenate([self.core_length_m, self.cord_length_m[cord]])

    def fibre_db(self, label: Ints, wavelength_nm: Floats, grade: str = "maximum") -> Floats:
        """Loss of the fibre on paths at a wavelength each [dB]; NaN where a class has no figure there."""
        names = self.class_names
        metres = self.metres[label]
        out = np.zeros(len(label))
        for wavelength in np.unique(wavelength_nm):
            at = np.flatnonzero(wavelength_nm == wavelength)
            per_km = np.asarray(attenuation_db_per_km(names, np.full(len(names), wavelength), grade))
            # a class that is not on the path must not spoil it: 0 m x NaN
            out[at] = np.where(metres[at] > 0, metres[at] * per_km / 1000, 0.0).sum(axis=1)
        return out

    @cached_property
    def strung(self) -> Strung:
        """The paths, each in order."""
        return Strung(self.net)

    @cached_property
    def _mismatch(self) -> Floats | None:
        table = mismatch_table(self.class_names)
        if table is None:
            return None
        measured = self.splices.basis == MEASURED
        return mismatch_by_path(self.net, self.strung, table, self.cable_class, self.cord_class, measured)

    def mismatch_db(self, label: Ints, outward: npt.NDArray[np.bool_]) -> Floats:
        """Loss where multimode cores of different size or aperture meet, light going away from the label or to it."""
        if self._mismatch is None:
            return np.zeros(len(label))
        return self._mismatch[label, np.where(outward, 0, 1)]

    # --- joints ------------------------------------------------------------------------------------------------------
    @cached_property
    def splices(self) -> Losses:
        """Loss of each splice row."""
        t = self.net.ends.table("splices")
        return _recorded_else(t, np.asarray(splice_db(text(t["method"]))))

    @cached_property
    def pigtail_splices(self) -> Losses:
        """Loss of each termination row's pigtail splice; none where the connector was fitted without one."""
        t = self.net.ends.table("terminations")
        found = _recorded_else(t, np.full(t.num_rows, splice_db("fusion")))
        loss_db = np.where(self.has_pigtail, found.loss_db, 0.0)
        return Losses(loss_db, found.basis)

    @cached_property
    def has_pigtail(self) -> npt.NDArray[np.bool_]:
        """Whether each termination row is a spliced pigtail."""
        t = self.net.ends.table("terminations")
        method = text(t["method"])
        said = ~np.isnan(lengths_m(t["loss_db"]))
        # where the method was not noted but a loss was, it is the splicer's figure
        return (method == "spliced pigtail") | ((method == "") & said)

    @cached_property
    def connections(self) -> Losses:
        """Loss of each port row as a connection; 0 where nothing is mated."""
        e = self.net.ends
        array = text(e.table("ports")["connector"]) == "MPO"
        limit = np.where(array, connection_db(array=True), self.connection_limit_db)
        basis = np.full(e.n_ports, CATALOGUE)
        t = e.table("terminations")
        found = _recorded_else(t, np.full(t.num_rows, np.nan))
        port = e.termination_ports[0] - e.first_plug
        own = np.flatnonzero(~self.has_pigtail & ~np.isnan(found.loss_db) & (port >= 0))
        limit[port[own]] = found.loss_db[own]
        basis[port[own]] = found.basis[own]
        return Losses(np.where(self.mated, limit, 0.0), basis)

    @cached_property
    def connection_limit_db(self) -> Floats:
        """The most a connection at each port may lose: that of the standard grade, or 97 % of its recorded grade."""
        grades = Labels()
        ids = grades.ids(self.net.ends.table("ports")["grade"])
        return np.array([grade_limit_db(g) for g in grades.texts])[ids]

    @cached_property
    def mated(self) -> npt.NDArray[np.bool_]:
        """Whether each port has something on both sides."""
        j, first, last = self.net.joints, self.net.ends.first_plug, self.net.first_interface
        sides = np.zeros(2 * self.net.n_vertices, bool)
        sides[j.u] = True
        sides[j.v] = True
        return sides[2 * first : 2 * last : 2] & sides[2 * first + 1 : 2 * last : 2]

    @cached_property
    def fixed_db(self) -> Floats:
        """Loss of splices and connections by path label and basis, shape (vertices, 3)."""
        net, e = self.net, self.net.ends
        j = net.joints
        of_splice, of_pigtail = j.what == SPLICE, j.what == TERMINATION
        port_label = net.paths.label[e.first_plug : net.first_interface]
        parts = [
            (net.joint_path[of_splice], self.splices, j.row[of_splice]),
            (net.joint_path[of_pigtail], self.pigtail_splices, j.row[of_pigtail]),
            (port_label, self.connections, np.arange(e.n_ports)),
        ]
        at = np.concatenate([label * 3 + losses.basis[row] for label, losses, row in parts])
        loss = np.concatenate([losses.loss_db[row] for _, losses, row in parts])
        return np.bincount(at, loss, 3 * net.n_vertices).astype(np.float64).reshape(-1, 3)


def grade_limit_db(grade: str) -> float:
    """The most a connection of a grade may lose [dB]; blank = standard grade."""
    if not grade:
        return float(connection_db())
    mode = "multimode" if grade.endswith("m") else "single-mode"
    return float(connection_db({"multimode": "OM3", "single-mode": "OS2"}[mode], "97 %", grade))


def _recorded_else(table: pa.Table, catalogue_db: Floats) -> Losses:
    said = lengths_m(table["loss_db"])
    measured = text(table["loss_basis"]) == "measured"
    basis = np.where(np.isnan(said), CATALOGUE, np.where(measured, MEASURED, RECORDED))
    return Losses(np.where(np.isnan(said), catalogue_db, said), basis)


def lengths_m(column: pa.ChunkedArray) -> Floats:
    """A number column as floats, null as NaN."""
    return column.to_numpy().astype(np.float64)


def text(column: pa.ChunkedArray) -> npt.NDArray[np.object_]:
    """A text column as an object array, blank as ""; words are made once each."""
    labels = Labels()
    ids = labels.ids(column)
    return np.array(labels.texts, dtype=object)[ids]


def share_columns(shares: Floats) -> dict[str, Floats]:
    """Loss by basis, shape (n, 3), as named columns."""
    return {f"{name}_db": shares[:, i] for i, name in enumerate(BASES)}


def names(items: Sequence[str]) -> str:
    """Join names as people do."""
    return " and ".join([", ".join(items[:-1]), items[-1]]) if len(items) > 1 else "".join(items)
