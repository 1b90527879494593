"""The part of CHECKS.md that says which values only memory, or one text, holds: written from planted mistakes."""

from __future__ import annotations

from collections import Counter

from fibrebook.reference.check.held import Row, shipped_tables
from fibrebook.reference.check.planted import plants
from fibrebook.reference.check.walk import DOCUMENT

BEGIN, END = "<!-- from here on written by --renew -->\n", "<!-- to here -->\n"
SUBJECTS = ("application", "channel_class", "code", "component", "name", "fibre_class")


def subject(row: Row) -> str:
    """Return what a row is mainly of: an application, a colour code, a component, a class."""
    return next(str(row[c]) for c in SUBJECTS if row.get(c))


def unheld() -> str:
    """Return the section as it should stand: counts by table, then what passes unnoticed, by column and subject."""
    noticed, all_of = Counter[str](), Counter[str]()
    passing: dict[tuple[str, str, str], Counter[str]] = {}
    for plant in plants(shipped_tables()):
        all_of[plant.table] += 1
        noticed[plant.table] += bool(plant.noticed_by)
        if not plant.noticed_by:
            place = plant.table, plant.column, subject(plant.row)
            passing.setdefault(place, Counter())[plant.row["basis"]] += 1
    counts = [f"| {name} | {noticed[name]} of {all_of[name]} |" for name in sorted(all_of)]
    lines: dict[tuple[str, str, str], list[str]] = {}
    for (table, column, name), known in passing.items():
        lines.setdefault((table, column, " + ".join(sorted(known))), []).append(name)
    rest = [f"| {t} | {c} | {'; '.join(dict.fromkeys(names))} | {b} |" for (t, c, b), names in sorted(lines.items())]
    heads = ["| table | wrong values noticed |", "| --- | --- |"]
    heads_of_rest = ["| table | column | of | known from |", "| --- | --- | --- | --- |"]
    return "\n".join([*heads, *counts, "", *heads_of_rest, *rest, ""])


def written() -> str:
    """Return the section as it stands in CHECKS.md."""
    return DOCUMENT.read_text(encoding="utf-8").partition(BEGIN)[2].partition(END)[0]


def renew() -> None:
    """Write the section anew."""
    text = DOCUMENT.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    DOCUMENT.write_text(before + BEGIN + unheld() + END + rest.partition(END)[2], encoding="utf-8")
