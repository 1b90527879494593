"""What each element loses by its own record, else by the catalogue; and what fibre it is of.

An element's loss is *measured*, else *recorded* (the splicer's estimate), else the *catalogue*'s limit. A connection is
a port with something plugged or made off on both sides; a spliced pigtail is one splice; plugs into equipment do not
count (channel of ISO/IEC 11801-1). Only fibre depends on the wavelength: here it has a class and metres.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.light.catalogue import connection_db, splice_db
from fibrebook.light.catalogue.values import Values
from fibrebook.plant import Network
from fibrebook.plant.made_off import ports_of_core_ends
from fibrebook.records.references.labels_as_numbers import Ints, Labels
from fibrebook.reference.firm import PUBLISHED, FirmValues

MEASURED, RECORDED, CATALOGUE = range(3)
BASES = ("measured", "recorded", "catalogue")
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Losses:
    """Loss and basis (MEASURED, RECORDED, CATALOGUE) of elements [dB]."""

    loss_db: Floats
    basis: npt.NDArray[np.int64]


@dataclass(frozen=True)
class Elements:
    """Fibre class, length and loss of every element of a network, by row of its own table."""

    net: Network
    values: Values

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
        return floats_or_nan(self.net.ends.table("cables")["length_m"])[self.net.ends.core_cable]

    @cached_property
    def cord_length_m(self) -> Floats:
        """Length of each patch row; NaN where it is not known."""
        return floats_or_nan(self.net.ends.table("patches")["length_m"])

    # --- joints ------------------------------------------------------------------------------------------------------
    @cached_property
    def splices(self) -> Losses:
        """Loss of each splice row."""
        t = self.net.ends.table("splices")
        return _recorded_else(t, np.asarray(splice_db(text(t["method"]), values=self.values)))

    @cached_property
    def pigtail_splices(self) -> Losses:
        """Loss of each termination row's pigtail splice; none where the connector was fitted without one."""
        t = self.net.ends.table("terminations")
        found = _recorded_else(t, np.full(t.num_rows, splice_db("fusion", values=self.values)))
        loss_db = np.where(self.has_pigtail, found.loss_db, 0.0)
        return Losses(loss_db, found.basis)

    @cached_property
    def has_pigtail(self) -> npt.NDArray[np.bool_]:
        """Whether each termination row is a spliced pigtail."""
        t = self.net.ends.table("terminations")
        method = text(t["method"])
        said = ~np.isnan(floats_or_nan(t["loss_db"]))
        # where the method was not noted but a loss was, it is the splicer's figure
        found: npt.NDArray[np.bool_] = (method == "spliced pigtail") | ((method == "") & said)
        return found

    @cached_property
    def connections(self) -> Losses:
        """Loss of each port row as a connection; 0 where nothing is mated."""
        e = self.net.ends
        array = text(e.table("ports")["connector"]) == "MPO"
        limit = np.where(array, connection_db(array=True, values=self.values), self.connection_limit_db)
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
        return np.array([grade_limit_db(g, values=self.values) for g in grades.texts])[ids]

    @cached_property
    def mated(self) -> npt.NDArray[np.bool_]:
        """Whether each port has something on both sides."""
        j, first, last = self.net.joints, self.net.ends.first_plug, self.net.first_interface
        sides = np.zeros(2 * self.net.n_vertices, bool)
        sides[j.u] = True
        sides[j.v] = True
        return sides[2 * first : 2 * last : 2] & sides[2 * first + 1 : 2 * last : 2]


def grade_limit_db(grade: str, *, values: FirmValues = PUBLISHED) -> float:
    """The most a connection of a grade may lose [dB]; blank = standard grade."""
    if not grade:
        return float(connection_db(values=values))
    mode = "multimode" if grade.endswith("m") else "single-mode"
    return float(connection_db({"multimode": "OM3", "single-mode": "OS2"}[mode], "97 %", grade, values=values))


def _recorded_else(table: pa.Table, catalogue_db: Floats) -> Losses:
    said = floats_or_nan(table["loss_db"])
    measured = text(table["loss_basis"]) == "measured"
    basis = np.where(np.isnan(said), CATALOGUE, np.where(measured, MEASURED, RECORDED))
    return Losses(np.where(np.isnan(said), catalogue_db, said), basis)


def floats_or_nan(column: pa.ChunkedArray) -> Floats:
    """A number column as floats, null as NaN."""
    found: Floats = column.to_numpy().astype(np.float64)
    return found


def text(column: pa.ChunkedArray) -> npt.NDArray[np.object_]:
    """A text column as an object array, blank as ""; words are made once each."""
    labels = Labels()
    ids = labels.ids(column)
    return np.array(labels.texts, dtype=object)[ids]
