"""What was understood of each table, in a plain sentence with an example, for a person to confirm beforehand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fibrebook.readers.lists.columns import ListColumn
from fibrebook.readers.lists.lines import ENDS, Item
from fibrebook.words.labels import folded
from fibrebook.words.lists import both

KEY = "sentence"


def sentence_key(columns: Sequence[ListColumn], sheet: str) -> str:
    """Return what the sentence of a table's shape is known by: tables of one shape are confirmed once."""
    shape = "; ".join(f"{folded(c.heading) or c.key} = {c.role or '?'}" for c in columns)
    headed = any(c.heading for c in columns)
    return f"{KEY}: {shape}" if headed else f"{KEY}, {sheet}: {shape}"


def example_of(items: Sequence[Item]) -> Item:
    """Return the line that says most, the first of those."""
    return max(items, key=lambda i: len([v for v in i.values.values() if v not in (None, "", False)]) + len(i.notes))


def sentence(item: Item, place: str, count: int) -> str:
    """Say what a line was taken for."""
    told = [_thing(item)]
    ends = [_at_end(item, end) for end in ENDS]
    joined = [e for e in ends if e]
    if joined:
        told.append(
            f"on {both(joined)}"
            if "core" in item.values
            else f"from {' to '.join(joined)}"
            if len(joined) > 1
            else f"at {joined[0]}"
        )
    told += _more(item.values)
    if item.losses:
        told.append(both([f"{loss:g} dB" + (f" at {nm} nm" if nm else "") for nm, loss, _ in item.losses]))
    if item.notes:
        told.append(f"note: {item.notes[0][0]}")
    return f"{place}: {', '.join(told)}. Are all {count} lines of this shape to be read so?"


def _thing(item: Item) -> str:
    values = item.values
    cable = f" of cable {values['cable']}" if values.get("cable") else ""
    if "core" in values or "core_colour" in values:
        colour = f" ({values['core_colour']})" if values.get("core_colour") else ""
        tube = f" in tube {values['tube']}" if values.get("tube") else ""
        return f"core {values.get('core', '?')}{colour}{tube}{cable}"
    if values.get("cable"):
        return f"cable {values['cable']}"
    return "a port" if any(f"{e}_port" in values for e in ENDS) else "a line"


def _at_end(item: Item, end: str) -> str:
    values = item.values
    enclosure, port = values.get(f"{end}_enclosure"), values.get(f"{end}_port")
    if not enclosure and port is None:
        return ""
    told = str(enclosure or "a panel that is not named")
    if port is not None:
        told += f" port {port}"
    if values.get(f"{end}_position"):
        told += f" position {values[f'{end}_position']}"
    return f"{told} (end {end.upper()})"


def _more(values: dict[str, Any]) -> list[str]:
    told = []
    words = {"core_count": "{} cores", "cores_per_tube": "{} in each tube", "fibre_class": "{}", "length_m": "{:g} m",
             "condition": "{}", "fault_m": "fault at {:g} m", "reserved_for": "reserved for {}",
             "tested_on": "tested {}",
             "installed_on": "pulled {}"}  # fmt: skip
    for role, form in words.items():
        if values.get(role) not in (None, ""):
            told.append(form.format(values[role]))
    return told
