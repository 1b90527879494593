"""Colours that a list gives against those of the cable's colour code: contradictions are worth a note."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fibrebook.errors import ValueSourceError
from fibrebook.readers.files.sheets import shown
from fibrebook.readers.layouts.rows import Cell, Record, Records
from fibrebook.reference.colours import cable_cores, read_colour

CODE = "TIA-598"  # where the cable's colour_code is blank and the firm chose none


def colour_notes(
    records: Records, own_codes: Mapping[str, Any] | None = None, usual_code: str | None = None
) -> list[str]:
    """Return a note for each core whose colour in the list is not the one that its number has by the code."""
    cables = records.tables.get("cables", {})
    given = [(r, n, c) for r, n, c in records.compared if n.endswith("_colour")]
    for record in records.tables.get("cores", {}).values():
        given += [(record, n, record.cells[n]) for n in ("core_colour", "tube_colour") if n in record.cells]
    made: dict[tuple[Any, ...], list[dict[str, Any]] | None] = {}
    notes = []
    for record, column, cell in given:
        key = record.key[:2]
        if key not in made:
            made[key] = _cores(cables.get(key), own_codes, usual_code or CODE)
        cores = made[key]
        if cores:
            notes += _note(record, column, cell, cores)
    return list(dict.fromkeys(notes))


def _cores(cable: Record | None, own_codes: Mapping[str, Any] | None, usual_code: str) -> list[dict[str, Any]] | None:
    """Return the cores of a cable that the list makes; None where it does not say enough."""
    if cable is None or "core_count" not in cable.cells:
        return None

    def said(name: str) -> str:
        return shown(cable.cells[name].value) if name in cable.cells else ""

    try:
        count, each = int(float(said("core_count"))), int(float(said("cores_per_tube") or 0))
        table = cable_cores(count, each, said("tube_sizes"), said("colour_code") or usual_code, own_codes or None)
    except (ValueError, ValueSourceError):
        return None
    rows: list[dict[str, Any]] = table.to_pylist()
    return rows


def _note(record: Record, column: str, cell: Cell, cores: list[dict[str, Any]]) -> list[str]:
    try:
        number = int(float(record.key[2]))
    except (TypeError, ValueError):
        return []
    if not 1 <= number <= len(cores):
        return []
    core = cores[number - 1]
    says, is_ = read_colour(cell.value), core[column]
    where = cell.where(column)
    if says is None:
        return [f"{where}: {shown(cell.value)!r} is no colour word; by its number core {number} is {is_}"]
    if is_ is None or says == read_colour(is_):
        return []
    same = [c for c in cores if read_colour(c[column] or "") == says]
    if column == "tube_colour":
        tubes = sorted({c["tube"] for c in same})
        other = f"tube {tubes[0]}" if tubes else "no tube of this cable"
        return [f"{where}: colour says {other} ({says}), number says tube {core['tube']} ({is_})"]
    in_tube = [c["core"] for c in same if c["tube"] == core["tube"]] or [c["core"] for c in same]
    other = f"core {in_tube[0]}" if in_tube else "no core of this cable"
    return [f"{where}: colour says {other} ({says}), number says {number} ({is_})"]
