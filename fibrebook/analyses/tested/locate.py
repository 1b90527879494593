"""From a distance on an OTDR to a place: which cable, how far along, near which enclosure, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.errors import InputError
from fibrebook.light.catalogue.values import Values
from fibrebook.light.otdr import corrected_distance_m, group_index
from fibrebook.losses.by_tests.shots import off_m
from fibrebook.losses.elements import Elements
from fibrebook.plant import Network
from fibrebook.plant.network import JOINTS
from fibrebook.plant.walk import Start, Step, path_through
from fibrebook.records.references.reference_index import key_text
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.names import Names
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.snapshot.things import Said

BEYOND = "beyond the end"
TOLD = {
    "cables": ["cable", "a_enclosure", "b_enclosure", "fibre_class", "route", "length_basis"],
    "patches": ["cord", "strand", "a_at", "b_at"],
    "splices": ["enclosure", "tray", "slot"],
    "ports": ["enclosure", "port", "position"],
}
SCHEMA = pa.schema(
    [
        ("kind", pa.string()), ("at", pa.string()), ("name", pa.string()), ("from_enclosure", pa.string()),
        ("along_m", pa.float64()), ("nearest_enclosure", pa.string()), ("nearest_m", pa.float64()),
        ("fibre_m", pa.float64()), ("off_m", pa.float64()), ("error_m", pa.float64()), ("route", pa.string()),
        ("length_basis", pa.string()),
    ]
)  # fmt: skip


@analysis
def locate(
    seen: PlantSnapshot,
    site: str,
    start: Said,
    distance_m: float,
    index_set: float | None = None,
    wavelength_nm: float | None = None,
    launch_m: float = 0.0,
) -> pa.Table:
    """Name the place at an OTDR distance from a port.

    Parameters
    ----------
    start : ("port", enclosure, port, position), shot into its front, or a bare core end ("core", cable, core) shot from
        end A; ("core", cable, core, "B") from end B
    distance_m : distance read [m]; launch_m : length of the launch cord where it was not taken off
    index_set, wavelength_nm : group index the instrument was set to, and wavelength [nm]; with both, the distance is
        put right by the published index of the fibre

    Returns
    -------
    DataFrame, likeliest first: the piece that holds the distance, then every joint within the error of it. Columns:
    kind (core, cord, splice, connection, beyond the end), at (cable, cord or enclosure), name (core, tray/slot,
    port/position), from_enclosure (end of the cable that light enters at), along_m (metres of cable from there),
    nearest_enclosure, nearest_m (metres of cable to it), fibre_m (metres of fibre from the start to the place, as the
    records have it), off_m (reading less that), error_m (plus or minus: index, helix, slack and instrument, root of
    the sum of squares), route, length_basis. A cable whose length was marked or estimated is taken to hold more fibre
    than its sheath is long (practice: 1.5 +- 0.5 %); slack counts at every enclosure passed on such cables.
    """
    if not distance_m >= launch_m >= 0:
        raise InputError(f"distance {distance_m:g} m is impossible: it is less than the launch cord's {launch_m:g} m")
    net = seen.network
    begin = otdr_start(seen.names, site, start)
    walk = Walks(net, seen.losses.elements).pieces(begin)
    reading = distance_m - launch_m
    classes = [p.fibre_class for p in walk if p.fibre_class]
    if index_set is not None and wavelength_nm is not None and classes:
        published = group_index(classes[0], wavelength_nm, values=seen.values)
        if not np.isnan(published):
            reading = float(corrected_distance_m(reading, index_set, published))
    return located_table(seen.values, walk, reading)


@dataclass(frozen=True)
class Piece:
    """One element on the way of the shot; `begins_m` to `ends_m` of fibre from the start, a joint has no length."""

    kind: str
    at: str
    name: str
    begins_m: float
    ends_m: float
    from_enclosure: str = ""
    to_enclosure: str = ""
    stretch: float = 1.0  # metres of fibre in a metre of cable
    unmeasured_m: float = 0.0  # fibre so far whose length was not measured
    slacks: int = 0  # enclosures so far at which slack may lie
    fibre_class: str = ""
    route: str = ""
    length_basis: str = ""
    row: int = -1  # of the joint's own table


def otdr_start(names: Names, site: str, start: Said) -> Start:
    """Vertex and the slot by which the light of a shot leaves it."""
    net, end = names.net, "A"
    if not isinstance(start, str) and len(start) == 4 and start[0] == "core":
        start, end = start[:3], str(start[3]).upper()
        if end not in ("A", "B"):
            raise InputError(f"{end!r} is no end of a cable: A or B")
    found = names.start(site, start)
    if found.vertex < net.ends.first_plug:
        return Start(found.vertex + (end == "B"), 0, found.text)
    return Start(found.vertex, 1 if net.is_interface(np.array([found.vertex]))[0] else 0, found.text)


class Walks:
    """What light meets out of one start or another; a record that several ways pass is looked up once."""

    def __init__(self, net: Network, elements: Elements) -> None:
        self.net, self.elements = net, elements
        self.helix = elements.values.practice("fibre longer than sheath") / 100.0
        self._rows: dict[tuple[str, int], dict[str, Any]] = {}

    def pieces(self, begin: Start) -> list[Piece]:
        """Return the pieces from a start on, with metres of fibre."""
        # told from the other end the way would run backwards, so the far end of the other slot is where to begin
        steps = _onward(path_through(self.net, Start(begin.vertex, 1 - begin.slot, begin.text)), begin.vertex)
        walk = _Walk(self)
        return [piece for step in steps for piece in walk.pieces(step)]

    def row(self, kind: str, row: int) -> dict[str, Any]:
        """Return what a record says of its place on the way."""
        if (kind, row) not in self._rows:
            table = self.net.ends.table(kind).select(TOLD[kind])
            self._rows[kind, row] = dict(table.slice(row, 1).to_pylist()[0])
        return self._rows[kind, row]


def no_length(cable: str) -> str:
    """Say that nothing can be located beyond a cable."""
    return f"cable {cable!r} has no length: measure or estimate it, then locate again"


def _onward(steps: list[Step], vertex: int) -> list[Step]:
    """Steps from a vertex on."""
    at = next(i for i, step in enumerate(steps) if step.vertex == vertex and step.what not in JOINTS)
    return steps[at:]


class _Walk:
    def __init__(self, walks: Walks) -> None:
        self.net, self.elements, self.helix, self._row = walks.net, walks.elements, walks.helix, walks.row
        self.at_m, self.unmeasured_m, self.slacks = 0.0, 0.0, 0

    def pieces(self, step: Step) -> list[Piece]:
        """The pieces of one step: none for bare core ends and pigtails."""
        if step.what == "core":
            return [self._core(step)]
        if step.what == "patch":
            row = self._row("patches", step.row)
            length = float(np.nan_to_num(self.elements.cord_length_m[step.row]))
            ends = [row["a_at"] or "", row["b_at"] or ""]
            here, there = ends if step.forward else ends[::-1]
            told = {"at": row["cord"], "name": row["strand"] or "", "row": step.row}
            return [self._advance(length, kind="cord", from_enclosure=here, to_enclosure=there, **told)]
        if step.what == "splice":
            row = self._row("splices", step.row)
            return [self._joint("splice", row["enclosure"], key_text(row, ("tray", "slot")), step.row)]
        if step.what == "port":
            row = self._row("ports", step.row)
            return [self._joint("connection", row["enclosure"], key_text(row, ("port", "position")), step.row)]
        return []

    def _core(self, step: Step) -> Piece:
        cable = int(self.net.ends.core_cable[step.row])
        row = self._row("cables", cable)
        ends = [row["a_enclosure"] or "", row["b_enclosure"] or ""]
        measured = row["length_basis"] == "measured"
        stretch = 1.0 if measured else 1.0 + self.helix
        length = float(self.elements.core_length_m[step.row])
        if np.isnan(length):
            raise InputError(no_length(row["cable"]))
        if not measured:
            self.unmeasured_m += length * stretch
            self.slacks += 1
        return self._advance(
            length * stretch,
            kind="core",
            at=row["cable"],
            name=str(int(self.net.ends.core_number[step.row])),
            from_enclosure=ends[0 if step.forward else 1],
            to_enclosure=ends[1 if step.forward else 0],
            stretch=stretch,
            fibre_class=row["fibre_class"] or "",
            route=row["route"] or "",
            length_basis=row["length_basis"] or "",
        )

    def _advance(self, fibre_m: float, **told: Any) -> Piece:
        begins = self.at_m
        self.at_m += fibre_m
        return Piece(begins_m=begins, ends_m=self.at_m, unmeasured_m=self.unmeasured_m, slacks=self.slacks, **told)

    def _joint(self, kind: str, at: str, name: str, row: int) -> Piece:
        return self._advance(0.0, kind=kind, at=at, name=name, row=row, from_enclosure=at, to_enclosure=at)


def error_m(values: Values, piece: Piece, reading_m: float) -> float:
    """Root of the sum of squares of what may be wrong at a reading [m]."""
    begun = piece.begins_m if piece.kind == "core" else piece.ends_m
    behind = piece.ends_m - max(min(reading_m, piece.ends_m), begun) if piece.stretch > 1 else 0.0
    return float(off_m(values, reading_m, piece.unmeasured_m - behind, piece.slacks))


def located_table(values: Values, walk: list[Piece], reading_m: float) -> pa.Table:
    """As `locate`, as an Arrow table, from the pieces and the reading put right."""
    fibre = [p for p in walk if p.ends_m > p.begins_m]
    if not fibre:
        raise InputError("nothing with a length lies behind this start: there is nothing to locate in")
    holds = next((p for p in fibre if p.begins_m <= reading_m <= p.ends_m), None)
    rows = [_row(values, holds, reading_m, reading_m)] if holds else []
    joints = [p for p in walk if p.ends_m == p.begins_m]
    near = [p for p in joints if abs(reading_m - p.ends_m) <= error_m(values, p, reading_m)]
    rows += [_row(values, p, reading_m, p.ends_m) for p in sorted(near, key=lambda p: abs(reading_m - p.ends_m))]
    if holds is None:
        last = fibre[-1]
        rows.append(_row(values, last, reading_m, last.ends_m) | {"kind": BEYOND})
    return pa.Table.from_pylist(rows, schema=SCHEMA)


def _row(values: Values, piece: Piece, reading_m: float, fibre_m: float) -> dict[str, Any]:
    along = (min(fibre_m, piece.ends_m) - piece.begins_m) / piece.stretch
    whole = (piece.ends_m - piece.begins_m) / piece.stretch
    near_start = along <= whole / 2.0
    return {
        "kind": piece.kind,
        "at": piece.at,
        "name": piece.name,
        "from_enclosure": piece.from_enclosure,
        "along_m": along,
        "nearest_enclosure": piece.from_enclosure if near_start else piece.to_enclosure,
        "nearest_m": along if near_start else whole - along,
        "fibre_m": fibre_m,
        "off_m": reading_m - fibre_m,
        "error_m": error_m(values, piece, reading_m),
        "route": piece.route,
        "length_basis": piece.length_basis,
    }
