"""Scope: what was done in a period, what was there already, and what was not touched, from the register's history.

It tells what was recorded in the period. Whoever types old papers in makes records too: the page says so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fibrebook.analyses.work.invoice_lines import invoice_lines
from fibrebook.register import open as open_register
from fibrebook.sheets.hand_over.premises import OwnPart
from fibrebook.sheets.paper.place_codes import place_code
from fibrebook.sheets.paper.sections import Block, PaperSection, facts, heading, table, words
from fibrebook.sheets.paper.wording import Wording
from fibrebook.words.labels import natural

if TYPE_CHECKING:
    from fibrebook.register import Register

Thing = tuple[str, str]  # kind and label
THINGS = {"cables": "cable", "enclosures": "enclosure", "equipment": "equipment"}
NAMED = {"cables": "Cables", "enclosures": "Panels and closures", "equipment": "Equipment"}
# Of each kind of record, the columns that name the things it is a part of.
PARTS = {
    "cables": (("cables", "cable"),),
    "cores": (("cables", "cable"),),
    "enclosures": (("enclosures", "enclosure"),),
    "ports": (("enclosures", "enclosure"),),
    "splices": (("enclosures", "enclosure"), ("cables", "a_cable"), ("cables", "b_cable")),
    "terminations": (("enclosures", "enclosure"), ("cables", "cable")),
    "equipment": (("equipment", "equipment"),),
    "interfaces": (("equipment", "equipment"),),
    "patches": (("enclosures", "a_at"), ("enclosures", "b_at"), ("equipment", "a_at"), ("equipment", "b_at")),
}


def scope_section(reg: Register, site: str, since: Any, until: Any, part: OwnPart | None, w: Wording) -> PaperSection:
    """Return what was done between two commits or days, what was there already, what was not touched."""
    before = open_register(reg.where, at=0 if since is None else since)
    after = open_register(reg.where, at=reg.commit if until is None else until)
    old, new = _things(before, site), _things(after, site)
    touched = _touched(before, after, site)
    kept = new if part is None else {t for t in new if t[1] in part.own | part.cables}
    blocks: list[Block] = []
    done = _done(reg, site, since, until, w) if part is None else []
    groups: tuple[tuple[str, list[Block], set[Thing], str], ...] = (
        ("What we did", done, kept - old, "New:"),
        ("What was there already, and we worked on", [], kept & old & touched, ""),
        ("What was there already, and we did not touch", [], (kept & old) - touched, ""),
    )
    for title, first, things, lead in groups:
        if first or things:
            blocks += [
                heading(w.say(title)),
                *first,
                *([words(w.say(lead))] if lead and things else []),
                *_listed(things, w),
            ]
    if not blocks:
        return PaperSection(w.say("Scope"), place_code(site))
    period = w.say("Recorded after {since} and until {until}.", since=_state(before, w), until=_state(after, w))
    note = w.say("It tells what was recorded in this period; work that nobody recorded is not in it.")
    return PaperSection(w.say("Scope"), place_code(site), [words(f"{period} {note}"), *blocks])


def _state(reg: Register, w: Wording) -> str:
    if not reg.commit:
        return w.say("the beginning of the register")
    return w.say("{day}, commit {commit}", day=str(reg.committed_utc)[:10], commit=reg.commit)


def _things(reg: Register, site: str) -> set[Thing]:
    if not reg.commit or not reg.has_site(site):
        return set()
    tables = reg.tables(site, names=tuple(THINGS))
    return {(kind, label) for kind, column in THINGS.items() for label in tables[kind][column].to_pylist()}


def _touched(before: Register, after: Register, site: str) -> set[Thing]:
    """Things of which a record, or a part of one, differs between the two states."""
    found: set[Thing] = set()
    states = [_rows(reg, site) for reg in (before, after)]
    for kind, parts in PARTS.items():
        old, new = (state.get(kind, set()) for state in states)
        rows = [dict(row) for row in old ^ new]
        found |= {(of, row[column]) for row in rows for of, column in parts if row[column]}
    return found


def _rows(reg: Register, site: str) -> dict[str, set[tuple[tuple[str, Any], ...]]]:
    if not reg.commit or not reg.has_site(site):
        return {}
    tables = reg.tables(site, names=tuple(PARTS))
    return {kind: {tuple(row.items()) for row in table_of.to_pylist()} for kind, table_of in tables.items()}


def _done(reg: Register, site: str, since: Any, until: Any, w: Wording) -> list[Block]:
    lines = invoice_lines(reg, since, until, site).to_dict("records")
    rows = [[line["work"], f"{line['quantity']:g}", line["unit"]] for line in lines]
    return table([w.say(h) for h in ("Work", "Count", "Unit")], (5, 1, 1), rows)


def _listed(things: set[Thing], w: Wording) -> list[Block]:
    by_kind = {kind: sorted((label for k, label in things if k == kind), key=natural) for kind in THINGS}
    told = facts((w.say(NAMED[kind]), ", ".join(labels)) for kind, labels in by_kind.items())
    return [{**block, "whole": True} for block in told]
