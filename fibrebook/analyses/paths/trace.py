"""The whole path through one core, port or interface: every element in order, from one far end to the other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.losses.along import Part, tests_along
from fibrebook.losses.by_tests.in_words import notes_of
from fibrebook.losses.channel_wavelengths import path_wavelength_nm
from fibrebook.losses.elements import BASES, MEASURED
from fibrebook.plant.walk import Start, Step, path_through
from fibrebook.records.references.reference_index import key_text
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.colours_in_words import colour_words
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.snapshot.things import Said

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
        ("test", pa.string()),
        ("test_note", pa.string()),
    ]
)


@analysis
def trace(seen: PlantSnapshot, site: str, start: Said, wavelength_nm: float | None = None) -> pa.Table:
    """Follow the path through a start to both its far ends.

    Parameters
    ----------
    site : label of the site
    start : ("core", cable, core), ("port", enclosure, port, position) or ("interface", equipment, interface, position);
        or as people write it, "C1/7", "P1/12/A", "port P1/12": case, blanks and leading noughts aside
    wavelength_nm : wavelength the losses are told at [nm]; default: that of the channel's application, else the first
        window of the trade for the fibre (850 nm multimode, 1310 nm single-mode)

    Returns
    -------
    DataFrame, one row an element, in order: kind (interface, cord, port, core, splice, loose end), at (equipment, cord,
    enclosure or cable), name (interface/position, strand, port/position, core, tray/slot), length_m, loss_db (a port's:
    its connection and its pigtail's splice; blank where nobody can tell it), basis (measured, recorded, catalogue; two
    of them joined by "+"), colour (of tube and core, in words), location, wavelength_nm, start (true at the element
    asked for), reach_m (metres of fibre from the first end to behind this element), test (the loss test that tells the
    loss of this element, in one figure for its whole stretch: it stands at the stretch's last element, and 0 at those
    before), test_note (at that last element: that it failed, or found more than the records say, or was made at another
    wavelength or the other way). A core's path starts at the far end
    out of its end A; a port's at what is plugged in front; an interface's at itself. On a loop the path goes round
    once. Light goes from the first row to the last: what it loses where unlike cores meet is told at the splice or port
    where they do, and the rows add up to the loss that `headroom` tells for that direction.

    Raises NotFoundError, with the nearest names, where there is no such start; AmbiguousError, with all, where several
    things are called so.
    """
    return trace_table(seen, site, start, wavelength_nm)


def trace_table(seen: PlantSnapshot, site: str, start: Said, wavelength_nm: float | None = None) -> pa.Table:
    """As `trace`, as an Arrow table."""
    net = seen.network
    begin = seen.names.start(site, start)
    steps, losses = path_through(net, begin), seen.losses
    teller = _Teller(seen, begin, steps, wavelength_nm or path_wavelength_nm(losses, begin.vertex))
    rows = [row for at, step in enumerate(steps) if (row := teller.row(at, step)) is not None]
    reach = 0.0
    for row in rows:
        reach += row["length_m"] or 0.0
        row["reach_m"] = reach
    return pa.Table.from_pylist(rows, schema=SCHEMA)


def _tested(seen: PlantSnapshot, steps: Sequence[Step], wavelength_nm: float) -> tuple[dict[int, str], dict[int, str]]:
    """Label of the test that tells what is lost at a step, by step, and what is said of it where its stretch ends."""
    labels: dict[int, str] = {}
    notes: dict[int, str] = {}
    counted = seen.losses.counted
    for told in tests_along(seen.losses, steps, wavelength_nm):
        label = counted.tests["test"][int(counted.columns.row[told.test])].as_py()
        at_port = steps[told.last].what == "port"
        end = told.last if at_port else told.last - 1
        notes[end] = notes_of(counted, told, wavelength_nm)
        if told.stands:  # it tells nothing that counts, but that it failed is to be seen
            notes[end] = f"{label} {notes[end]}"
        else:
            inside = range(told.first + (not told.at_first), told.last + (told.at_last or at_port))
            labels |= dict.fromkeys(inside, label)
    return labels, notes


class _Teller:
    """Turns steps of one path into rows; per-element look-ups only, of one site."""

    def __init__(self, seen: PlantSnapshot, begin: Start, steps: Sequence[Step], wavelength_nm: float) -> None:
        self.net, self.begin = seen.network, begin
        self.cores, self.elements = seen.cores, seen.losses.elements
        self.wavelength_nm = wavelength_nm
        self.parts: dict[int, list[Part]] = defaultdict(list)
        for part in seen.losses.along(steps, wavelength_nm):
            self.parts[part.step].append(part)
        self.tested, self.notes = _tested(seen, steps, wavelength_nm)
        self._locations = self._location_of_places()

    def row(self, at: int, step: Step) -> dict[str, Any] | None:
        """One row for a step; None for what is told with another element (bare core ends, terminations)."""
        maker = {
            "interface": self._interface, "port": self._port, "loose end": self._loose, "core": self._core,
            "splice": self._splice, "patch": self._cord,
        }.get(step.what)  # fmt: skip
        if maker is None:
            return None
        row: dict[str, Any] = {"length_m": None, "loss_db": None, "basis": None, "colour": None, "location": None}
        row |= self._loss(step, self.parts[at], at in self.tested)
        row |= maker(step.row)
        row |= {"test": self.tested.get(at), "test_note": self.notes.get(at) or None}
        row["wavelength_nm"] = self.wavelength_nm
        row["start"] = self._is_start(step)
        return row

    def _loss(self, step: Step, parts: list[Part], tested: bool) -> dict[str, Any]:
        """Length, loss and basis of an element: the sum of what is told at it."""
        if tested:
            bases = dict.fromkeys([*(BASES[p.basis] for p in parts), BASES[MEASURED]])
            return self._length(step) | {"loss_db": float(sum(p.loss_db for p in parts)), "basis": " + ".join(bases)}
        if not parts:
            return {"loss_db": 0.0} if step.what == "port" else {}
        if step.what in ("core", "patch"):
            fibre = parts[0]
            known = {} if np.isnan(fibre.length_m) else {"length_m": fibre.length_m}
            if fibre.lacks:
                return known
            return known | {"loss_db": fibre.loss_db, "basis": BASES[fibre.basis] if known else None}
        # a connection goes before the pigtail's splice behind it, whichever way the light goes
        parts = sorted(parts, key=lambda p: p.kind != "connection")
        bases = dict.fromkeys(BASES[p.basis] for p in parts)
        return {"loss_db": float(sum(p.loss_db for p in parts)), "basis": " + ".join(bases)}

    def _length(self, step: Step) -> dict[str, Any]:
        """Length of a core or cord, where it is known."""
        of = {"core": self.elements.core_length_m, "patch": self.elements.cord_length_m}.get(step.what)
        return {} if of is None or np.isnan(of[step.row]) else {"length_m": float(of[step.row])}

    def _is_start(self, step: Step) -> bool:
        if step.what == "core":
            return step.row == self.begin.vertex // 2 and self.begin.vertex < self.net.ends.first_plug
        return step.what in ("port", "interface") and step.vertex == self.begin.vertex

    def _location_of_places(self) -> list[str | None]:
        e = self.net.ends
        found: list[str | None] = (
            e.table("enclosures")["location"].to_pylist() + e.table("equipment")["location"].to_pylist()
        )
        return found

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
            "location": self._locations[place] if place >= 0 else None,
        }  # fmt: skip

    def _loose(self, i: int) -> dict[str, Any]:
        row = self._get("patches", i)
        return {"kind": "loose end", "at": row["cord"], "name": row["strand"]}

    def _core(self, core: int) -> dict[str, Any]:
        row = {k: v[0] for k, v in self.cores.slice(core, 1).to_pydict().items()}
        return {"kind": "core", "at": row["cable"], "name": str(row["core"]), "colour": colour_words(row)}

    def _splice(self, i: int) -> dict[str, Any]:
        row = self._get("splices", i)
        place = int(
            self.net.ends.place_rows(self.net.ends.site_ids("splices"), self.net.ends.table("splices")["enclosure"])[i]
        )
        return {
            "kind": "splice", "at": row["enclosure"], "name": key_text(row, ("tray", "slot")),
            "location": self._locations[place] if place >= 0 else None,
        }  # fmt: skip

    def _cord(self, i: int) -> dict[str, Any]:
        row = self._get("patches", i)
        return {"kind": "cord", "at": row["cord"], "name": row["strand"]}
