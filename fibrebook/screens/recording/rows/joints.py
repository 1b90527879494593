"""What can be joined in an enclosure: the proposed row of splices or pigtails of a cable.

A splice of core n to core n is straight-through; by colour, each core goes to the one that looks the same.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa

from fibrebook.reference.colours import read_colour
from fibrebook.words.labels import natural, whole_number

Tables = Mapping[str, pa.Table]
Row = dict[str, Any]
PIGTAILS = "ports"
STRAIGHT, BY_COLOUR, NEXT_FREE = "straight through", "by colour", "next free in order"
ORDERS = (STRAIGHT, BY_COLOUR, NEXT_FREE)
LOOK = ("tube_colour", "tube_tracer", "core_colour", "core_tracer")


@dataclass(frozen=True, order=True)
class CableEnd:
    """An end of a cable in an enclosure; `both` where both its ends are there."""

    cable: str
    end: str
    both: bool = False

    def __str__(self) -> str:
        return f"{self.cable} end {self.end}" if self.both else self.cable


@dataclass
class JointProposal:
    """Rows of one cable end in one enclosure: what each core is joined to, or would be.

    rows : core, colours, to (text shown), there (key of the record that stands, None = proposed), loss_db, note
    targets : text -> what may be joined: (port, position) or (cable, core, end)
    """

    site: str
    enclosure: str
    end: CableEnd
    to: str
    rows: list[Row]
    targets: dict[str, tuple[Any, ...]] = field(default_factory=dict)
    tray: str = "1"
    first_slot: int = 1
    used_slots: frozenset[tuple[str, str]] = frozenset()


def cable_ends(tables: Tables, enclosure: str) -> list[CableEnd]:
    """Return the cable ends in an enclosure, as people sort labels."""
    out = []
    for row in tables["cables"].select(["cable", "a_enclosure", "b_enclosure"]).to_pylist():
        here = [e for e in "AB" if row[f"{e.lower()}_enclosure"] == enclosure]
        out += [CableEnd(row["cable"], e, len(here) == 2) for e in here]
    return sorted(out, key=lambda e: (natural(e.cable), e.end))


def taken(tables: Tables, enclosure: str) -> dict[tuple[str, int, str], Row]:
    """Return what core ends in an enclosure are joined to: (cable, core, end) -> the record, with its table."""
    ends = {(e.cable, e.end): e for e in cable_ends(tables, enclosure)}
    only = {c: e for (c, e), found in ends.items() if not found.both}
    out: dict[tuple[str, int, str], Row] = {}
    for row in _here(tables["splices"], enclosure):
        a = (row["a_cable"], row["a_core"], row["a_end"] or only.get(row["a_cable"], ""))
        b = (row["b_cable"], row["b_core"], row["b_end"] or only.get(row["b_cable"], ""))
        out[a] = {**row, "table": "splices", "other": b}
        out[b] = {**row, "table": "splices", "other": a}
    for row in _here(tables["terminations"], enclosure):
        out[(row["cable"], row["core"], row["end"] or only.get(row["cable"], ""))] = {**row, "table": "terminations"}
    return out


def _here(table: pa.Table, enclosure: str) -> Iterable[Row]:
    return (r for r in table.to_pylist() if r["enclosure"] == enclosure)


def port_text(port: str, position: str) -> str:
    """Return a port as it is read on the panel: 3 A."""
    return f"{port} {position}".strip()


def free_ports(tables: Tables, enclosure: str) -> dict[str, tuple[str, str]]:
    """Return the positions whose rear is free, in order: text -> (port, position)."""
    used = {(r["port"], r["position"]) for r in _here(tables["terminations"], enclosure)}
    ports = sorted(
        ((r["port"], r["position"]) for r in _here(tables["ports"], enclosure)),
        key=lambda p: (natural(p[0]), natural(p[1])),
    )
    return {port_text(*p): p for p in ports if p not in used}


def ways_on(tables: Tables, enclosure: str, end: CableEnd) -> list[tuple[str, str]]:
    """Return what a cable end may be joined to there: (text, value); the likeliest first."""
    joined = Counter((c, e) for c, _, e in taken(tables, enclosure))
    counts = dict(zip(tables["cables"]["cable"].to_pylist(), tables["cables"]["core_count"].to_pylist(), strict=True))
    others = [e for e in cable_ends(tables, enclosure) if e != end]
    others.sort(key=lambda e: joined[e.cable, e.end] >= counts[e.cable])  # those with nothing free last
    out = [(f"cable {o}", str(o)) for o in others]
    if any(True for _ in _here(tables["ports"], enclosure)):
        ports = ("pigtails to the ports here", PIGTAILS)
        out = [ports, *out] if free_ports(tables, enclosure) or not others else [*out, ports]
    return out


def propose(
    tables: Tables, cores: pa.Table, site: str, enclosure: str, end: CableEnd, to: str, order: str = STRAIGHT,
    tube: int | None = None,
) -> JointProposal:  # fmt: skip
    """Return one row for each core of a cable end (of one tube): joined already, or with the proposed joint.

    Parameters
    ----------
    tables, cores : the site's records as they would be, cores in full
    to : PIGTAILS or the text of another CableEnd; order : one of ORDERS (splices only)
    """
    joined = taken(tables, enclosure)
    mine = [c for c in _cores(cores, end.cable) if tube is None or c["tube"] == tube]
    proposal = JointProposal(site, enclosure, end, to, [])
    if to == PIGTAILS:
        proposal.targets = dict(free_ports(tables, enclosure))
        free = iter(proposal.targets)
        aims = {c["core"]: next(free, "") for c in mine if (end.cable, c["core"], end.end) not in joined}
    else:
        other = next(e for e in cable_ends(tables, enclosure) if str(e) == to)
        theirs = [c for c in _cores(cores, other.cable) if (other.cable, c["core"], other.end) not in joined]
        proposal.targets = {str(c["core"]): (other.cable, c["core"], other.end if other.both else "") for c in theirs}
        mine_free = [c for c in mine if (end.cable, c["core"], end.end) not in joined]
        aims = _aims(order, mine_free, theirs)
        _slots(proposal, tables)
    for core in mine:
        there = joined.get((end.cable, core["core"], end.end))
        aim = aims.get(core["core"], "")
        row = {k: core[k] for k in ("core", "tube", *LOOK)} | {"note": core["notes"] or ""}
        if there:
            row |= {"there": there, "to": _joined_text(there), "loss_db": there["loss_db"]}
        else:
            row |= {"there": None, "to": aim if aim in proposal.targets else "", "loss_db": None}
        proposal.rows.append(row)
    return proposal


def _cores(cores: pa.Table, cable: str) -> list[Row]:
    return [c for c in cores.to_pylist() if c["cable"] == cable]


def _aims(order: str, mine: Sequence[Row], theirs: Sequence[Row]) -> dict[int, str]:
    if order == BY_COLOUR:
        return _by_colour(mine, theirs)
    if order == NEXT_FREE:
        return {c["core"]: str(t["core"]) for c, t in zip(mine, theirs, strict=False)}
    return {c["core"]: str(c["core"]) for c in mine}


def _by_colour(mine: Sequence[Row], theirs: Sequence[Row]) -> dict[int, str]:
    """Match cores that look the same; a look that several cores of one side share is matched in order."""
    looks: dict[tuple[Any, ...], list[str]] = {}
    for core in theirs:
        looks.setdefault(_look(core), []).append(str(core["core"]))
    return {c["core"]: found.pop(0) for c in mine if (found := looks.get(_look(c)))}


def _look(core: Row) -> tuple[Any, ...]:
    """Colours as one word each: slate and grey look alike."""
    return tuple(read_colour(core[n] or "") or core[n] or "" for n in LOOK)


def _slots(proposal: JointProposal, tables: Tables) -> None:
    rows = list(_here(tables["splices"], proposal.enclosure))
    proposal.used_slots = frozenset((r["tray"], r["slot"]) for r in rows)
    if rows:
        proposal.tray = max((r["tray"] for r in rows), key=natural)
    numbers = [whole_number(s) or 0 for t, s in proposal.used_slots if t == proposal.tray]
    proposal.first_slot = max(numbers, default=0) + 1


def _joined_text(there: Row) -> str:
    if there["table"] == "terminations":
        return port_text(there["port"], there["position"])
    cable, core, _ = there["other"]
    return f"{cable} core {core}"
