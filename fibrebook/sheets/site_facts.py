"""Everything that the page of a site tells, put in order: from the analyses, for one site."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from fibrebook.analyses.paths.cross_reference import cross_reference_table
from fibrebook.analyses.paths.goes_dark import goes_dark_table
from fibrebook.analyses.paths.panel_and_tray import panel_table, tray_table
from fibrebook.analyses.spare.spare import spare_counts
from fibrebook.analyses.visits.about_site import open_snags
from fibrebook.plant.states import STATES
from fibrebook.snapshot.colours_in_words import colour_words
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.words.labels import natural

if TYPE_CHECKING:
    from fibrebook.register import Register

Row = dict[str, Any]
OF_CORES = ("reserved_for", "fault_m", "notes")  # what a core's own record says besides


@dataclass
class CableFacts:
    """A cable: its record, its cores as the cross reference tells them, and the channels that a cut would end."""

    row: Row
    cores: list[Row] = field(default_factory=list)
    dark: list[Row] = field(default_factory=list)

    @property
    def states(self) -> list[tuple[str, int]]:
        """How many cores are in each state, in the order of the states."""
        counted = [(state, sum(c["state"] == state for c in self.cores)) for state in STATES]
        return [(state, n) for state, n in counted if n]


@dataclass
class EnclosureFacts:
    """An enclosure with its door open: its record, ports, trays (label -> splices), and what it would take down."""

    row: Row
    place: str
    ports: list[Row]
    trays: dict[str, list[Row]]
    dark: list[Row]


@dataclass
class SiteFacts:
    """A site as its page tells it."""

    about: Row
    cables: list[CableFacts]
    enclosures: list[EnclosureFacts]
    equipment: list[tuple[Row, list[Row]]]
    channels: list[Row]
    snags: list[Row]
    spare: Row


def site_facts(reg: Register, site: str, seen: PlantSnapshot | None = None) -> SiteFacts:
    """Gather what the page of a site tells; `seen`: its snapshot, where the caller has one.

    Raises
    ------
    NotFoundError : there is no such site; the message names the nearest
    """
    tables = {name: table.to_pylist() for name, table in reg.tables(site).items()}
    seen = seen or PlantSnapshot.of(reg, site)
    net = seen.network
    counts = [row for row in spare_counts(net, "site").to_pylist() if row["site"] == site]
    places = {row["location"]: _place(row) for row in tables["locations"]}
    return SiteFacts(
        about=tables["sites"][0],
        cables=_cables(seen, site, tables),
        enclosures=[_enclosure(seen, site, row, places) for row in _in_order(tables["enclosures"], "enclosure")],
        equipment=[
            (row, _dark(seen, site, "equipment", row["equipment"]))
            for row in _in_order(tables["equipment"], "equipment")
        ],
        channels=_in_order(tables["channels"], "channel"),
        snags=open_snags(tables["snags"]),
        spare=counts[0] if counts else {},
    )


def folded_ports(ports: list[Row]) -> list[Row]:
    """Return ports with those that have nothing at them, one after the other, as one line of the first and the last.

    Each row has `first_bare`: the first port of such a line, "" where something is at the port.
    """
    out: list[Row] = []
    for port in ports:
        bare = not (port["cable"] or port["cord"] or port["channel"])
        if bare and out and out[-1]["first_bare"]:
            out[-1]["port"] = port["port"]
        else:
            out.append(port | {"first_bare": port["port"] if bare else ""})
    return out


def _cables(seen: PlantSnapshot, site: str, tables: dict[str, list[Row]]) -> list[CableFacts]:
    found = {row["cable"]: CableFacts(row) for row in _in_order(tables["cables"], "cable")}
    said = {(row["cable"], row["core"]): {n: row[n] for n in OF_CORES} for row in tables["cores"]}
    for core in cross_reference_table(seen).to_pylist():
        if core["site"] == site:
            found[core["cable"]].cores.append(
                core
                | {"colour": colour_words(core), "ends": [_end(core, "a"), _end(core, "b")]}
                | said.get((core["cable"], core["core"]), dict.fromkeys(OF_CORES))
            )
    for label, cable in found.items():
        cable.dark = _dark(seen, site, "cable", label)
        _count_in_tubes(cable.cores)
    return list(found.values())


def _count_in_tubes(cores: list[Row]) -> None:
    """Add to each core its place in its tube, as it is counted with the tube in hand; 0 where there is no tube."""
    tube, place = None, 0
    for core in cores:
        same = (core["tube_colour"], core["tube_tracer"])
        tube, place = same, place + 1 if same == tube else 1
        core["in_tube"] = place if core["tube_colour"] else 0


def _end(core: Row, end: str) -> str:
    """Say what one end of a core comes to: the port it is on and what is met beyond, or how it lies there."""
    at, port = core[f"{end}_enclosure"] or "end not recorded", core[f"{end}_port"]
    beyond, kind = core[f"{end}_reaches"], core[f"{end}_reaches_kind"]
    if port:
        own = "/".join(p for p in (at, port, core[f"{end}_position"]) if p)
        return f"{own}, nothing plugged" if beyond == own else f"{own} → {beyond}"
    own_end = (core["cable"], str(core["core"]), end.upper())
    met = tuple(str(core[f"{end}_reaches_{part}"]) for part in ("at", "port", "position"))
    lies_bare = kind == "core end" and met == own_end
    return f"{at}, not joined" if lies_bare else f"{at}, joined → {beyond}"


def _enclosure(seen: PlantSnapshot, site: str, row: Row, places: dict[str, str]) -> EnclosureFacts:
    label = row["enclosure"]
    trays: dict[str, list[Row]] = defaultdict(list)
    for splice in tray_table(seen, site, label).to_pylist():
        trays[splice["tray"] or ""].append(splice)
    return EnclosureFacts(
        row=row,
        place=places.get(row["location"], row["location"] or ""),
        ports=panel_table(seen, site, label).to_pylist(),
        trays=dict(trays),
        dark=_dark(seen, site, "enclosure", label),
    )


def _dark(seen: PlantSnapshot, site: str, kind: str, label: str) -> list[Row]:
    found: list[Row] = goes_dark_table(seen, site, (kind, label)).to_pylist()
    return found


def _place(row: Row) -> str:
    parts = [row[c] for c in ("building", "room", "rack") if row[c]]
    return f"{row['location']}: {', '.join(parts)}" if parts else str(row["location"])


def _in_order(rows: list[Row], key: str) -> list[Row]:
    return sorted(rows, key=lambda row: natural(row[key]))
