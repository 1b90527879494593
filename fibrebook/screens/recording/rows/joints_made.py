"""The records that a proposal's ticked rows make: splices or terminations, and notes on cores."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from fibrebook.records.kinds.built_in import KINDS
from fibrebook.screens.recording.rows.joints import PIGTAILS, JointProposal, Row
from fibrebook.screens.recording.rows.losses import Fault, loss_faults, loss_of


def joints_of(
    proposal: JointProposal, values: Sequence[Mapping[str, Any]], tray: str, method: str, on: str, by: str
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
    faults += loss_faults(losses)
    bad = {i for i, _, _ in faults}
    if bad:  # rows with a fault wait until they are right; the others stand
        return _without(proposal, values, bad, tray, method, on, by), faults
    return {k: v for k, v in put.items() if v}, faults


def _without(
    proposal: JointProposal,
    values: Sequence[Mapping[str, Any]],
    bad: set[int],
    tray: str,
    method: str,
    on: str,
    by: str,
) -> dict[str, list[Row]]:
    right = [i for i in range(len(values)) if i not in bad]
    rows = [proposal.rows[i] for i in right]
    part = JointProposal(**{**proposal.__dict__, "rows": rows})
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


def _aim_fault(proposal: JointProposal, aim: str, first: int, i: int) -> str:
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


def _joint(proposal: JointProposal, row: Row, aim: tuple[Any, ...], tray: str, slots: Iterable[str]) -> tuple[str, Row]:
    end = proposal.end.end if proposal.end.both else None
    if proposal.to == PIGTAILS:
        port, position = aim
        made = {"port": port, "position": position, "cable": proposal.end.cable, "core": row["core"], "end": end}
        return "terminations", made
    cable, core, other = aim
    made = {"tray": tray, "slot": next(iter(slots)), "a_cable": proposal.end.cable, "a_core": row["core"]}
    return "splices", made | {"a_end": end, "b_cable": cable, "b_core": core, "b_end": other or None}


def _free_slots(proposal: JointProposal, tray: str) -> Iterable[str]:
    number = proposal.first_slot if tray == proposal.tray else 1
    while True:
        if (tray, str(number)) not in proposal.used_slots:
            yield str(number)
        number += 1
