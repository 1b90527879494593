"""Collects the rows of one site in the words of somebody who is cabling it."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import Any

from demo_maker.columns import COLUMNS
from demo_maker.optics import POWERS_DBM

Place = tuple[str, str]  # port, position
Row = dict[str, Any]


def day(text: str) -> date:
    """Read a date written year-month-day."""
    return date.fromisoformat(text)


SPLICERS = {"RK": "splicer 1", "EM": "splicer 2", "TB": "splicer 1"}  # who works with which machine


class Site:
    """The rows of one site, table by table; every method adds rows and keeps to what is on the label."""

    def __init__(self, site: str, **about: str) -> None:
        self.site = site
        self.tables: dict[str, list[Row]] = {table: [] for table in COLUMNS}
        self.places: dict[str, list[Place]] = {}
        self.cables: dict[str, Row] = {}
        self.random = random.Random(f"fibrebook demo {site}")
        self.add("sites", **about)

    def add(self, table: str, **row: Any) -> Row:
        """Add one row as it stands."""
        unknown = set(row) - set(COLUMNS[table])
        if unknown:
            raise ValueError(f"{table} has no column {sorted(unknown)}")
        full = {"site": self.site, **row}
        self.tables[table].append(full)
        return full

    def location(self, location: str, building: str, room: str = "", **more: str) -> None:
        """Add a location."""
        self.add("locations", location=location, building=building, room=room, **more)

    def closure(self, enclosure: str, location: str, trays: int = 2, notes: str = "") -> None:
        """Add a joint closure, which has trays and no ports."""
        self.add(
            "enclosures",
            enclosure=enclosure,
            location=location,
            kind="joint closure",
            trays=trays,
            notes=notes,
        )
        self.places[enclosure] = []

    def panel(
        self,
        enclosure: str,
        location: str,
        ports: int,
        connector: str = "LC",
        polish: str = "UPC",
        fibre_class: str = "OS2",
        duplex: bool = True,
        kind: str = "rack panel",
        trays: int = 0,
        notes: str = "",
    ) -> None:
        """Add a rack panel or wall box and its ports 1 to n."""
        trays = trays or -(-ports * (2 if duplex else 1) // 24)
        self.add("enclosures", enclosure=enclosure, location=location, kind=kind, trays=trays, notes=notes)
        positions = ("A", "B") if duplex else ("",)
        self.places[enclosure] = [(str(n), p) for n in range(1, ports + 1) for p in positions]
        for port, position in self.places[enclosure]:
            self.add(
                "ports",
                enclosure=enclosure,
                port=port,
                position=position,
                connector=connector,
                polish=polish,
                fibre_class=fibre_class,
            )

    def cable(
        self,
        cable: str,
        a: str,
        b: str,
        cores: int,
        length_m: float,
        installed_on: str,
        per_tube: int | None = None,
        fibre_class: str = "OS2",
        colour_code: str = "TIA-598",
        basis: str = "measured",
        **more: Any,
    ) -> None:
        """Add a cable between two enclosures."""
        more.setdefault("sheath", "polyethylene, outdoor, loose tube")
        self.cables[cable] = self.add(
            "cables",
            cable=cable,
            a_enclosure=a,
            b_enclosure=b,
            core_count=cores,
            cores_per_tube=per_tube,
            fibre_class=fibre_class,
            colour_code=colour_code,
            length_m=length_m,
            length_basis=basis,
            installed_on=day(installed_on),
            **more,
        )

    def core(self, cable: str, cores: Iterable[int], **said: Any) -> None:
        """Say something of some cores: faulty, reserved or a note."""
        for core in cores:
            self.add(
                "cores",
                cable=cable,
                core=core,
                condition=said.get("condition", "sound"),
                **{k: v for k, v in said.items() if k != "condition"},
            )

    def end_at(self, cable: str, enclosure: str) -> str:
        """Give the end of a cable that is in an enclosure; an error where it is none or both."""
        row = self.cables[cable]
        ends = [end for end in "AB" if row[f"{end.lower()}_enclosure"] == enclosure]
        if len(ends) != 1:
            raise ValueError(f"{self.site}: cable {cable} has {len(ends)} ends at {enclosure}: say which")
        return ends[0]

    def splicer_loss(self) -> float:
        """Give a splice loss in dB as a splicer shows it after the arc."""
        return self.random.choice((0.01, 0.02, 0.02, 0.03, 0.03, 0.04, 0.05, 0.07))

    def make_off(
        self,
        cable: str,
        enclosure: str,
        port: int,
        cores: Sequence[int],
        position: str | None = None,
        method: str = "spliced pigtail",
        made_on: str | None = None,
        by: str = "RK",
        noted: bool = True,
    ) -> None:
        """Make off cores on consecutive positions of a panel, from the first position of a port on."""
        places = self.places[enclosure]
        first = next(i for i, p in enumerate(places) if p[0] == str(port) and position in (None, p[1]))
        when = day(made_on) if made_on else self.cables[cable]["installed_on"] + timedelta(days=1)
        end = self.end_at(cable, enclosure)
        for core, (its_port, its_position) in zip(cores, places[first : first + len(cores)], strict=True):
            loss = self.splicer_loss() if noted and method == "spliced pigtail" else None
            self.add(
                "terminations",
                enclosure=enclosure,
                port=its_port,
                position=its_position,
                cable=cable,
                core=core,
                end=end,
                method=method,
                loss_db=loss,
                loss_basis="" if loss is None else "estimated",
                made_on=when,
                made_by=by,
                splicer=SPLICERS[by] if method == "spliced pigtail" else "",
            )

    def splice(
        self,
        enclosure: str,
        tray: int,
        slot: int,
        a: tuple[str, Sequence[int]],
        b: tuple[str, Sequence[int]],
        made_on: str,
        method: str = "fusion",
        ends: tuple[str, str] = ("", ""),
        by: str = "RK",
        losses: Sequence[float] | None = None,
        basis: str = "estimated",
    ) -> None:
        """Join cores one to one in consecutive slots of a tray."""
        for step, (a_core, b_core) in enumerate(zip(a[1], b[1], strict=True)):
            loss = losses[step] if losses else self.splicer_loss()
            self.add(
                "splices",
                enclosure=enclosure,
                tray=str(tray),
                slot=str(slot + step),
                a_cable=a[0],
                a_core=a_core,
                a_end=ends[0],
                b_cable=b[0],
                b_core=b_core,
                b_end=ends[1],
                method=method,
                loss_db=loss,
                loss_basis=basis,
                made_on=day(made_on),
                made_by=by,
                splicer=SPLICERS[by] if method == "fusion" else "",
            )

    def equipment(self, equipment: str, location: str, kind: str = "switch", label: str = "") -> None:
        """Add a piece of equipment."""
        self.add("equipment", equipment=equipment, location=location, kind=kind, label=label)

    def optic(self, where: str, application: str, single_fibre: bool = False, powers: bool = True) -> None:
        """Add the positions of one interface, written equipment/interface."""
        equipment, _, interface = where.partition("/")
        low, high, least, most = POWERS_DBM[application] if powers else (None,) * 4
        launch = {"launch_min_dbm": low, "launch_max_dbm": high}
        receive = {"receive_min_dbm": least, "receive_max_dbm": most}
        parts = {"TxRx": {**launch, **receive}} if single_fibre else {"Tx": launch, "Rx": receive}
        for position, dbm in parts.items():
            self.add(
                "interfaces",
                equipment=equipment,
                interface=interface,
                position=position,
                application=application,
                **dbm,
            )

    def pair(self, enclosure: str, port: int) -> list[Place]:
        """Give the two positions of a duplex port, or a simplex port and the next."""
        places = self.places[enclosure]
        first = next(i for i, p in enumerate(places) if p[0] == str(port))
        return places[first : first + 2]

    def next_cord(self) -> str:
        """Give the next cord number of the site."""
        return f"PC-{len({row['cord'] for row in self.tables['patches']}) + 1:03d}"

    def cord(
        self,
        ends: Sequence[tuple[tuple[str, str, str], tuple[str, str, str]]],
        fitted_on: str,
        length_m: float | None = 2.0,
        temporary: str = "no",
    ) -> str:
        """Add a cord, one strand for each pair of ends (at, port, position)."""
        name = self.next_cord()
        for strand, (a, b) in enumerate(ends, start=1):
            self.add(
                "patches",
                cord=name,
                strand=str(strand),
                a_at=a[0],
                a_port=a[1],
                a_position=a[2],
                b_at=b[0],
                b_port=b[1],
                b_position=b[2],
                temporary=temporary,
                length_m=length_m,
                fitted_on=day(fitted_on),
            )
        return name

    def plug(self, where: str, panel: tuple[str, int], fitted_on: str, swapped: bool = False, **more: Any) -> str:
        """Plug a duplex cord from an interface to a panel: Tx to the first position, or swapped, Rx."""
        equipment, _, interface = where.partition("/")
        order = ("Rx", "Tx") if swapped else ("Tx", "Rx")
        ends = [
            ((equipment, interface, position), (panel[0], *place))
            for position, place in zip(order, self.pair(*panel), strict=True)
        ]
        return self.cord(ends, fitted_on, **more)

    def bridge(self, here: tuple[str, int], there: tuple[str, int], fitted_on: str, **more: Any) -> str:
        """Plug a duplex cord from one panel port to another: an onward hop."""
        ends = [((here[0], *a), (there[0], *b)) for a, b in zip(self.pair(*here), self.pair(*there), strict=True)]
        return self.cord(ends, fitted_on, **more)

    def channel(
        self,
        channel: str,
        purpose: str,
        application: str,
        a: str,
        b: str,
        here: tuple[str, int],
        there: tuple[str, int],
        since: str,
        slip: bool = False,
        powers: bool = True,
        **cord: Any,
    ) -> None:
        """Add a duplex channel: optics, a cord at either end, and the channel itself."""
        for where in (a, b):
            self.optic(where, application, powers=powers)
        self.plug(a, here, since, **cord)
        self.plug(b, there, since, swapped=not slip, **cord)
        self.only_channel(channel, purpose, application, a, b, since)

    def one_fibre_channel(
        self,
        channel: str,
        purpose: str,
        a: str,
        b: str,
        here: tuple[str, Place],
        there: tuple[str, Place],
        since: str,
    ) -> None:
        """Add a 1000BASE-BX10 channel over a single core; a is the downstream (1490 nm) side."""
        for where, (panel, place), side in ((a, here, "D"), (b, there, "U")):
            self.optic(where, f"1000BASE-BX10-{side}", single_fibre=True)
            equipment, _, interface = where.partition("/")
            self.cord([((equipment, interface, "TxRx"), (panel, *place))], since)
        self.only_channel(channel, purpose, "1000BASE-BX10", a, b, since)

    def only_channel(self, channel: str, purpose: str, application: str, a: str, b: str, since: str) -> None:
        """Add the channel's own row."""
        a_equipment, _, a_interface = a.partition("/")
        b_equipment, _, b_interface = b.partition("/")
        self.add(
            "channels",
            channel=channel,
            purpose=purpose,
            application=application,
            a_equipment=a_equipment,
            a_interface=a_interface,
            b_equipment=b_equipment,
            b_interface=b_interface,
            in_use_since=day(since),
        )
