"""What can be joined in an enclosure: the proposed row of splices or pigtails of a cable, and the records it makes.

A splice of core n to core n is straight-through; by colour, each core goes to the one that looks the same.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa

from fibrebook.records.convert import to_table
from fibrebook.records.keys import natural
from fibrebook.records.kinds import KINDS
from fibrebook.reference.colours import read_colour

Tables = Mapping[str, pa.Table]
Row = dict[str, Any]
Fault = tuple[int, str, str]  # row, column, words
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
class Proposal:
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
) -> Proposal:  # fmt: skip
    """Return one row for each core of a cable end (of one tube): joined already, or with the proposed joint.

    Parameters
    ----------
    tables, cores : the site's records as they would be, cores in full
    to : PIGTAILS or the text of another CableEnd; order : one of ORDERS (splices only)
    """
    joined = taken(tables, enclosure)
    mine = [c for c in _cores(cores, end.cable) if tube is None or c["tube"] == tube]
    proposal = Proposal(site, enclosure, end, to, [])
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


def _slots(proposal: Proposal, tables: Tables) -> None:
    rows = list(_here(tables["splices"], proposal.enclosure))
    proposal.used_slots = frozenset((r["tray"], r["slot"]) for r in rows)
    if rows:
        proposal.tray = max((r["tray"] for r in rows), key=natural)
    numbers = [int(s) for t, s in proposal.used_slots if t == proposal.tray and s.isdecimal()]
    proposal.first_slot = max(numbers, default=0) + 1


def _joined_text(there: Row) -> str:
    if there["table"] == "terminations":
        return port_text(there["port"], there["position"])
    cable, core, _ = there["other"]
    return f"{cable} core {core}"


def loss_of(text: Any) -> str:
    """Return a loss as typed or pasted, freed of its unit and with a decimal point: "0,05 dB" -> "0.05"."""
    plain = re.sub(r"\s*dB$", "", str(text or "").strip(), flags=re.IGNORECASE)
    return re.sub(r"^([-+−]?\d*),(\d+)$", r"\1.\2", plain).replace("−", "-")


def joints_of(
    proposal: Proposal, values: Sequence[Mapping[str, Any]], tray: str, method: str, on: str, by: str
) -> tuple[dict[str, list[Row]], list[Fault]]:
    """Return the rows that the ticked cores make, by kind of record, and what is wrong with which cell.

    Parameters
    ----------
    values : one for each row of the proposal: made (bool), to, loss_db, note as typed
    tray, method, on, by : what holds for all of them
    """
    faults: list[Fault] = []
    put: dict[str, list[Row]] = {"splices": [], "terminations": [], "cores": []}
    slots = _free_slots(proposal, tray)
    aims: dict[str, int] = {}
    losses: list[tuple[int, str]] = []
    for i, (row, typed) in enumerate(zip(proposal.rows, values, strict=True)):
        note = str(typed.get("note") or "").strip()
        if note != (row["note"] or ""):
            put["cores"].append(
                {"site": proposal.site, "cable": proposal.end.cable, "core": row["core"], "notes": note or None}
            )
        loss = loss_of(typed.get("loss_db"))
        if row["there"]:
            _mend(put, row["there"], loss)
        elif typed.get("made"):
            aim = str(typed.get("to") or "").strip()
            wrong = _aim_fault(proposal, aim, aims.setdefault(aim, i), i)
            if wrong:
                faults.append((i, "to", wrong))
                continue
            about = {"method": method, "loss_db": loss or None, "made_on": on, "made_by": by}
            about["loss_basis"] = "estimated" if loss else None
            table, made = _joint(proposal, row, proposal.targets[aim], tray, slots)
            put[table].append({"site": proposal.site, "enclosure": proposal.enclosure} | made | about)
        else:
            continue
        losses.append((i, loss))
    faults += _loss_faults(losses)
    bad = {i for i, _, _ in faults}
    if bad:  # rows with a fault wait until they are right; the others stand
        return _without(proposal, values, bad, tray, method, on, by), faults
    return {k: v for k, v in put.items() if v}, faults


def _without(
    proposal: Proposal, values: Sequence[Mapping[str, Any]], bad: set[int], tray: str, method: str, on: str, by: str
) -> dict[str, list[Row]]:
    right = [i for i in range(len(values)) if i not in bad]
    rows = [proposal.rows[i] for i in right]
    part = Proposal(**{**proposal.__dict__, "rows": rows})
    return joints_of(part, [values[i] for i in right], tray, method, on, by)[0]


def _mend(put: dict[str, list[Row]], there: Row, loss: str) -> None:
    """A joint that stands: only its loss may be put right here."""
    was = "" if there["loss_db"] is None else f"{there['loss_db']:g}"
    if loss == was:
        return
    key = {k: there[k] for k in KINDS[there["table"]].key}
    put[there["table"]].append(
        key | {"loss_db": loss or None, "loss_basis": (there["loss_basis"] or "estimated") if loss else None}
    )


def _aim_fault(proposal: Proposal, aim: str, first: int, i: int) -> str:
    what = "port" if proposal.to == PIGTAILS else "core"
    if not aim:
        return f"no {what} is given: write which one"
    if aim not in proposal.targets:
        free = list(proposal.targets)
        told = f"free are {', '.join(free[:6])}{' ...' if len(free) > 6 else ''}" if free else "none is free"
        return f"{what} {aim} is not free here: {told}"
    if first != i:
        return f"{what} {aim} is given to core {proposal.rows[first]['core']} already"
    return ""


def _joint(proposal: Proposal, row: Row, aim: tuple[Any, ...], tray: str, slots: Iterable[str]) -> tuple[str, Row]:
    end = proposal.end.end if proposal.end.both else None
    if proposal.to == PIGTAILS:
        port, position = aim
        made = {"port": port, "position": position, "cable": proposal.end.cable, "core": row["core"], "end": end}
        return "terminations", made
    cable, core, other = aim
    made = {"tray": tray, "slot": next(iter(slots)), "a_cable": proposal.end.cable, "a_core": row["core"]}
    return "splices", made | {"a_end": end, "b_cable": cable, "b_core": core, "b_end": other or None}


def _free_slots(proposal: Proposal, tray: str) -> Iterable[str]:
    number = proposal.first_slot if tray == proposal.tray else 1
    while True:
        if (tray, str(number)) not in proposal.used_slots:
            yield str(number)
        number += 1


def _loss_faults(losses: Sequence[tuple[int, str]]) -> list[Fault]:
    key = {"site": "-", "enclosure": "-", "tray": "-", "slot": "-", "a_cable": "-", "a_core": 1, "b_cable": "-"}
    rows = [key | {"b_core": 1, "loss_db": loss or None} for _, loss in losses]
    _, problems = to_table(KINDS["splices"], rows)
    told = ((losses[p.row or 0][0], f"{p.what}: {p.remedy}" if p.remedy else p.what) for p in problems)
    return [(i, "loss_db", words) for i, words in told]
