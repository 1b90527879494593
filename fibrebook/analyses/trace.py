"""The whole path through one core, port or interface: every element in order, from one far end to the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.assemble import network
from fibrebook.analyses.firm import by_the_firm
from fibrebook.analyses.headroom import WINDOWS_NM
from fibrebook.analyses.weights import BASES, CATALOGUE, Weights
from fibrebook.light.catalogue import application, application_name, attenuation_db_per_km
from fibrebook.plant import Network
from fibrebook.plant.states import path_channel
from fibrebook.plant.walk import Start, Step, path_through, start_at
from fibrebook.records import to_frame
from fibrebook.records.ends import key_text
from fibrebook.reference.fibres import mode_of
from fibrebook.register.cores import full_cores

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

SCHEMA = pa.schema(
    [
        ("kind", pa.string()),
        ("at", pa.string()),
        ("name", pa.string()),
        ("length_m", pa.float64()),
        ("loss_db", pa.float64()),
        ("basis", pa.string()),
        ("colour", pa.string()),
        ("location", pa.string()),
        ("wavelength_nm", pa.float64()),
        ("start", pa.bool_()),
        ("reach_m", pa.float64()),
    ]
)


@by_the_firm
def trace(reg: Register, site: str, start: Sequence[object], wavelength_nm: float | None = None) -> pd.DataFrame:
    """Follow the path through a start to both its far ends.

    Parameters
    ----------
    site : label of the site
    start : ("core", cable, core), ("port", enclosure, port, position) or ("interface", equipment, interface, position)
    wavelength_nm : wavelength the losses are told at [nm]; default: that of the channel's application, else the first
        window of the trade for the fibre (850 nm multimode, 1310 nm single-mode)

    Returns
    -------
    DataFrame, one row an element, in order: kind (interface, cord, port, core, splice, loose end), at (equipment, cord,
    enclosure or cable), name (interface/position, strand, port/position, core, tray/slot), length_m, loss_db (a port's:
    its connection and its pigtail's splice), basis (measured, recorded, catalogue; two of them joined by "+"), colour
    (of tube and core, in words), location, wavelength_nm, start (true at the element asked for), reach_m (metres of
    fibre from the first end to behind this element). A core's path starts at the far end out of its end A; a port's at
    what is plugged in front; an interface's at itself. On a loop the path goes round once.

    Raises NotFoundError, with the nearest names, where there is no such start.
    """
    return to_frame(trace_table(network(reg, site), site, start, reg.own_codes(), wavelength_nm))


def trace_table(
    net: Network,
    site: str,
    start: Sequence[object],
    own_codes: dict[str, list[str]],
    wavelength_nm: float | None = None,
) -> pa.Table:
    """As `trace`, as an Arrow table, from the site's network."""
    begin = start_at(net, site, start)
    steps = path_through(net, begin)
    teller = _Teller(net, own_codes, begin, wavelength_nm)
    rows = [row for step in steps if (row := teller.row(step)) is not None]
    reach = 0.0
    for row in rows:
        reach += row["length_m"] or 0.0
        row["reach_m"] = reach
    return pa.Table.from_pylist(rows, schema=SCHEMA)


def path_wavelength_nm(net: Network, weights: Weights, begin: Start) -> float:
    """Wavelength [nm] that a path is told at: its channel's application's first, else the fibre's first window."""
    label = int(net.paths.label[begin.vertex])
    channel = int(path_channel(net)[label])
    if channel >= 0:
        known = application_name(net.ends.table("channels")["application"][channel].as_py() or "")
        if known:
            return application(known).wavelengths_nm[0]
    names = [n for n, here in zip(weights.class_names, weights.present[label], strict=True) if here]
    multimode = any(mode_of(n) == "multimode" for n in names)
    return WINDOWS_NM["multimode" if multimode else "single-mode"][0]


class _Teller:
    """Turns steps of one path into rows; per-element look-ups only, of one site."""

    def __init__(
        self, net: Network, own_codes: dict[str, list[str]], begin: Start, wavelength_nm: float | None
    ) -> None:
        self.net, self.weights, self.begin = net, Weights(net), begin
        self.cores = full_cores(net.ends.table("cables"), net.ends.table("cores"), own_codes)
        self.wavelength_nm = wavelength_nm or path_wavelength_nm(net, self.weights, begin)
        self._locations = self._location_of_places()

    def row(self, step: Step) -> dict[str, Any] | None:
        """One row for a step; None for what is told with another element (bare core ends, terminations)."""
        maker = {
            "interface": self._interface, "port": self._port, "loose end": self._loose, "core": self._core,
            "splice": self._splice, "patch": self._cord,
        }.get(step.what)  # fmt: skip
        if maker is None:
            return None
        row: dict[str, Any] = {"length_m": None, "loss_db": None, "basis": None, "colour": None, "location": None}
        row |= maker(step.row)
        row["wavelength_nm"] = self.wavelength_nm
        row["start"] = self._is_start(step)
        return row

    def _is_start(self, step: Step) -> bool:
        if step.what == "core":
            return step.row == self.begin.vertex // 2 and self.begin.vertex < self.net.ends.first_plug
        return step.what in ("port", "interface") and step.vertex == self.begin.vertex

    def _location_of_places(self) -> list[str | None]:
        e = self.net.ends
        return e.table("enclosures")["location"].to_pylist() + e.table("equipment")["location"].to_pylist()

    def _get(self, kind: str, row: int) -> dict[str, Any]:
        return {k: v[0] for k, v in self.net.ends.table(kind).slice(row, 1).to_pydict().items()}

    def _interface(self, i: int) -> dict[str, Any]:
        row = self._get("interfaces", i)
        place = int(self.net.ends.plug_place[self.net.ends.n_ports + i])
        return {
            "kind": "interface", "at": row["equipment"], "name": key_text(row, ("interface", "position")),
            "location": self._locations[place] if place >= 0 else None,
        }  # fmt: skip

    def _port(self, i: int) -> dict[str, Any]:
        row = self._get("ports", i)
        place = int(self.net.ends.plug_place[i])
        return {
            "kind": "port", "at": row["enclosure"], "name": key_text(row, ("port", "position")),
            "location": self._locations[place] if place >= 0 else None, **self._port_loss(i),
        }  # fmt: skip

    def _port_loss(self, i: int) -> dict[str, Any]:
        w, parts = self.weights, []
        if w.mated[i]:
            parts.append((w.connections.loss_db[i], w.connections.basis[i]))
        port_vertex = i + self.net.ends.first_plug
        made = np.flatnonzero(self.net.ends.termination_ports[0] == port_vertex)
        if len(made) and w.has_pigtail[made[0]]:
            parts.append((w.pigtail_splices.loss_db[made[0]], w.pigtail_splices.basis[made[0]]))
        if not parts:
            return {"loss_db": 0.0}
        bases = dict.fromkeys(BASES[b] for _, b in parts)
        return {"loss_db": float(sum(p for p, _ in parts)), "basis": " + ".join(bases)}

    def _loose(self, i: int) -> dict[str, Any]:
        row = self._get("patches", i)
        return {"kind": "loose end", "at": row["cord"], "name": row["strand"]}

    def _core(self, core: int) -> dict[str, Any]:
        row = {k: v[0] for k, v in self.cores.slice(core, 1).to_pydict().items()}
        cable = int(self.net.ends.core_cable[core])
        klass = self.weights.class_names[self.weights.cable_class[cable]]
        length_m = self.weights.core_length_m[core]
        return {
            "kind": "core", "at": row["cable"], "name": str(row["core"]), "colour": colour_words(row),
            **self._fibre(length_m, klass),
        }  # fmt: skip

    def _splice(self, i: int) -> dict[str, Any]:
        row, losses = self._get("splices", i), self.weights.splices
        place = int(
            self.net.ends.place_rows(self.net.ends.site_ids("splices"), self.net.ends.table("splices")["enclosure"])[i]
        )
        return {
            "kind": "splice", "at": row["enclosure"], "name": key_text(row, ("tray", "slot")),
            "loss_db": float(losses.loss_db[i]), "basis": BASES[losses.basis[i]],
            "location": self._locations[place] if place >= 0 else None,
        }  # fmt: skip

    def _cord(self, i: int) -> dict[str, Any]:
        row = self._get("patches", i)
        klass = self.weights.class_names[self.weights.cord_class[i]]
        told = self._fibre(self.weights.cord_length_m[i], klass)
        if np.isnan(self.weights.cord_length_m[i]):
            told = {"loss_db": 0.0}  # a cord of unknown length is short: its fibre counts for nothing
        return {"kind": "cord", "at": row["cord"], "name": row["strand"]} | told

    def _fibre(self, length_m: float, fibre_class: str) -> dict[str, Any]:
        if np.isnan(length_m):
            return {}
        per_km = float(attenuation_db_per_km(fibre_class, self.wavelength_nm)) if fibre_class else np.nan
        if np.isnan(per_km):
            return {"length_m": float(length_m)}
        return {"length_m": float(length_m), "loss_db": float(length_m * per_km / 1000), "basis": BASES[CATALOGUE]}


def colour_words(core: dict[str, Any]) -> str:
    """Say a core's colours in words: ``blue tube, orange core with one black stripe``."""

    def one(part: str) -> str:
        colour, tracer = core.get(f"{part}_colour"), core.get(f"{part}_tracer")
        return f"{colour} {part}{' with ' + tracer if tracer else ''}" if colour else ""

    return ", ".join(filter(None, (one("tube"), one("core"))))
