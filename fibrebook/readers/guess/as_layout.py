"""From a guess, looked at and corrected, to a layout: the same that a person would write in a .toml file."""

from __future__ import annotations

from typing import Any

from fibrebook.errors import InputError
from fibrebook.readers.guess.headings import BLANK, FAULTY, SOUND
from fibrebook.readers.guess.what_it_holds import GuessData
from fibrebook.readers.layouts.file import layout_from
from fibrebook.readers.layouts.layout import Layout

NOTES = ("use", "remark")


def layout_of(guess: GuessData) -> Layout:
    """Return the layout that a guess means; errors as `content_of`."""
    return layout_from(content_of(guess), f"guessed from {guess.path.name}")


def content_of(guess: GuessData) -> dict[str, Any]:
    """Return what the layout file that a guess means would hold.

    Raises
    ------
    InputError : it lacks what every list must say: the site, the cable, a core number or a count of cores
    """
    meant = guess.meant
    if "site" not in meant and not guess.site:
        raise InputError("no column names the site: say which site the list is of")
    if "cable" not in meant and not guess.cable_is_sheet:
        raise InputError("no column names the cable: say which column does, or take the sheet's name for it")
    if "core" not in meant and "core_count" not in meant:
        raise InputError("no column gives core numbers or how many cores a cable has: say which one does")
    content: dict[str, Any] = {
        "title": f"guessed from {guess.path.name}",
        "blank": list(BLANK),
        "sheets": {"only": list(guess.header_row)},
        "table": _table(guess),
        "fields": _fields(guess),
        "rows": _rows(guess),
    }
    if guess.encoding or guess.delimiter:
        content["file"] = {"encoding": guess.encoding, "delimiter": guess.delimiter}
    return content


def _table(guess: GuessData) -> dict[str, Any]:
    rows = set(guess.header_row.values())
    told: dict[str, Any] = {"header_rows": guess.header_rows}
    if guess.notes_below:
        told["ends_after_blank_rows"] = 1
    if len(rows) == 1:
        return told | {"header_row": rows.pop() - guess.header_rows + 1}
    if guess.header_rows > 1:
        raise InputError("the sheets' headers stand in different rows: bring them in one by one")
    return told | {"header_has": [c.heading for c in guess.columns if c.meaning]}


def _fields(guess: GuessData) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    if "site" not in guess.meant:
        fields["site"] = {"constant": guess.site}
    for meaning, column in guess.meant.items():
        told: dict[str, Any] = {"letter": column.letter, **_read_as(guess, meaning, column.examples)}
        if meaning in guess.fill_down:
            told["fill_down"] = True
        fields[meaning] = told
    if "cable" not in guess.meant:
        fields["cable"] = {"of": "sheet"}
    return fields


def _read_as(guess: GuessData, meaning: str, examples: list[str]) -> dict[str, Any]:
    known = {a: b for a, b in guess.spellings.get(meaning, {}).items() if b}
    if meaning in ("core", "core_count", "cores_per_tube"):
        return {"type": "whole number"}
    if meaning == "length_m":
        return {"type": "number", "unit": ["m"], "decimal": guess.decimal}
    if meaning in ("tube_colour", "core_colour"):
        return {"type": "colour"}
    if meaning == "condition":
        words = dict.fromkeys(FAULTY, "faulty") | dict.fromkeys(SOUND, "sound")
        return {"map": words, "only_mapped": True, "otherwise": "blank"}
    if meaning in ("use", "reserved_for"):
        return {"blank": ["free"]}
    end = meaning[0]
    if meaning.endswith("_panel_port"):
        return {"pattern": rf"(?P<{end}_enclosure>.+?) *[/:] *(?P<{end}_port>[^/:]+)"}
    if meaning.endswith("_port") and f"{end}_position" not in guess.meant and any(e[-1:] in "ABab" for e in examples):
        return {"case": "upper", "pattern": rf"(?P<{end}_port>.*?\d) *(?P<{end}_position>[AB])?"}
    return {"map": known} if known else {}


def _rows(guess: GuessData) -> list[dict[str, Any]]:
    fields = _known(guess)
    rows: list[dict[str, Any]] = [{"table": "sites", "columns": {"site": "{site}"}}]
    for end in "ab":
        if f"{end}_enclosure" in fields:
            columns = {"site": "{site}", "enclosure": f"{{{end}_enclosure}}"}
            rows.append({"table": "enclosures", "when": [f"{end}_enclosure"], "columns": columns})
    cable: dict[str, Any] = {"site": "{site}", "cable": "{cable}"}
    cable["core_count"] = "{core_count}" if "core_count" in fields else {"highest": "core"}
    for column in ("a_enclosure", "b_enclosure", "cores_per_tube", "fibre_class", "length_m"):
        if column in fields:
            cable[column] = f"{{{column}}}"
    rows.append({"table": "cables", "when": ["cable"], "columns": cable})
    if "core" in fields:
        rows += _core_rows(fields)
    for end in "ab":
        rows += _port_rows(fields, end)
    return rows


def _known(guess: GuessData) -> set[str]:
    fields = set(guess.meant)
    for end in "ab":
        if f"{end}_panel_port" in fields:
            fields |= {f"{end}_enclosure", f"{end}_port"}
        made = (
            _read_as(guess, f"{end}_port", guess.meant[f"{end}_port"].examples) if f"{end}_port" in guess.meant else {}
        )
        if "pattern" in made:
            fields.add(f"{end}_position")
    return fields


def _core_rows(fields: set[str]) -> list[dict[str, Any]]:
    columns: dict[str, Any] = {"site": "{site}", "cable": "{cable}", "core": "{core}"}
    for column in ("condition", "reserved_for"):
        if column in fields:
            columns[column] = f"{{{column}}}"
    notes = [f"{{{n}}}" for n in NOTES if n in fields]
    if notes:
        columns["notes"] = notes
    seen = {c: f"{{{c}}}" for c in ("tube_colour", "core_colour") if c in fields}
    if len(columns) == 3 and not seen:
        return []
    return [{"table": "cores", "when": ["cable", "core"], "columns": columns} | ({"compare": seen} if seen else {})]


def _port_rows(fields: set[str], end: str) -> list[dict[str, Any]]:
    enclosure, port, position = f"{end}_enclosure", f"{end}_port", f"{end}_position"
    if not {enclosure, port} <= fields:
        return []
    own = {"site": "{site}", "enclosure": f"{{{enclosure}}}", "port": f"{{{port}}}"}
    if position in fields:
        own["position"] = f"{{{position}}}"
    rows: list[dict[str, Any]] = [{"table": "ports", "when": [enclosure, port], "columns": own}]
    if "core" in fields:
        made = own | {"cable": "{cable}", "core": "{core}"}
        rows.append({"table": "terminations", "when": [enclosure, port, "cable", "core"], "columns": made})
    return rows
