"""The first sheet of a workbook that was sent out: what it is, where it comes from, how it goes back."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from fibrebook.errors import Problem
from fibrebook.workbook.cells import Sheet, is_blank, shown, wrong

ABOUT = "about"
LISTS = "lists"  # the hidden sheet that drop-downs refer to
ID, COMMIT, REGISTER = "register id", "commit", "register"
WHAT = (
    "Records of installed fibre, one sheet for each kind of record. Row 1 of each sheet holds the column names: "
    "leave them as they are. Columns may be left out and rows may be added, changed and sorted."
)
BACK = (
    "Save this file and bring it in (in the notebook: bring in a workbook; at the command line: fibrebook bring-in). "
    "Only what you changed here is changed there, even if others have worked on the register since. A blank cell "
    "clears the value; a row that is merely missing stays. Nothing is brought in while anything is wrong."
)
REMOVAL = "Write yes in the last column, 'remove', of a row that is to go."
CORES = (
    "Cores are made from their cable. Their numbers, tubes and colours are locked on the sheet 'cores' (there is no "
    "password); to overrule a colour, take the lock off under Review, Unprotect Sheet."
)
LEFT_OUT = (
    "The register holds more than is here: tables of a plugin that was not there when this workbook was written. They "
    "stay as they are when it is brought in:"
)
CAUTION = (
    "Never look into a fibre end, a connector or an optic: the light may be invisible and can blind. Glass shards, "
    "solvent, the splicer's arc, mains and ladders can hurt too. Local codes and licensed practice come first."
)


@dataclass
class About:
    """What the sheet says of its origin."""

    register_id: str = ""
    register: str = ""
    commit: int | None = None


def about_rows(
    register: str,
    register_id: str,
    commit: int,
    time_utc: str,
    sites: Sequence[str] | None,
    left_out: Sequence[str] = (),
) -> list[tuple[str, str | int]]:
    """Return the sheet's rows: a word and what it says; `left_out`: tables whose plugin is not here."""
    return [
        ("what this is", WHAT),
        (REGISTER, register),
        (ID, register_id),
        (COMMIT, commit),
        ("as it stood at", time_utc),
        ("sites", "all" if sites is None else ", ".join(sites)),
        *([("left out", f"{LEFT_OUT} {', '.join(left_out)}.")] if left_out else []),
        ("how it goes back", BACK),
        ("removing a row", REMOVAL),
        ("cores", CORES),
        ("caution", CAUTION),
    ]


def read_about(sheet: Sheet) -> tuple[About, list[Problem]]:
    """Read the sheet back; an origin that cannot be read is a problem, for it decides what counts as changed."""
    found = About()
    problems: list[Problem] = []

    def bad(row: int, name: str, what: str) -> None:
        remedy = "write what was there, or delete the sheet to bring the file in on the newest state"
        problems.append(wrong(sheet.name, row, 2, name, what, remedy))

    for number in range(1, len(sheet.rows) + 1):
        word = str(sheet.cell(number, 1)).strip().casefold()
        value = sheet.cell(number, 2)
        if word in (ID, COMMIT) and (is_blank(value) or (number, 2) in sheet.faults):
            fault = sheet.faults.get((number, 2))
            bad(number, word, f"holds {fault}" if fault else "is blank")
        elif is_blank(value):
            continue
        elif word == ID:
            found.register_id = str(value).strip()
        elif word == REGISTER:
            found.register = str(value).strip()
        elif word == COMMIT:
            text = shown(value).strip()
            if re.fullmatch(r"-?[0-9]{1,15}", text):
                found.commit = int(text)
            else:
                bad(number, COMMIT, f"{text[:40]!r} is no commit number")
    return found, problems
