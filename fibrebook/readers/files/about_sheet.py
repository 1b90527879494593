"""The first sheet of a workbook that was sent out: what it is, where it comes from, how it goes back."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from fibrebook.errors import Problem
from fibrebook.readers.files.sheets import Sheet, is_blank, shown, wrong

ABOUT = "about"
ABOUT_FILE = "about.json"  # the same beside .csv files
IN_A_HEADING = re.compile(r"taken from commit (\d{1,15}) of register (\S{1,100})")
LARGEST_ABOUT = 100_000  # bytes
LISTS = "lists"  # the hidden sheet that drop-downs refer to
ID, COMMIT, DIGEST, REGISTER = "register id", "commit", "digest of the commit", "register"
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
    digest: str = ""  # of the commit, as far as it is told


def heading(register_id: str, commit: int) -> str:
    """Return what stands in row 1 of every sheet, behind its columns, so that a sheet alone tells where it is from."""
    return f"taken from commit {commit} of register {register_id}"


def take_headings(sheets: Sequence[Sheet]) -> list[tuple[str, About]]:
    """Take the headings that tell an origin out of the sheets; return each sheet's name and what it told."""
    found = []
    for sheet in sheets:
        for number, value in enumerate(sheet.rows[0] if sheet.rows else ()):
            told = IN_A_HEADING.fullmatch(value.strip()) if isinstance(value, str) else None
            if told:
                sheet.rows[0][number] = ""
                found.append((sheet.name, About(told[2], "", int(told[1]))))
    return found


def read_about_file(source: Path) -> tuple[About, Problem | None] | None:
    """Read about.json in a folder of .csv files, beside it, or beside a .csv; None where there is none."""
    if source.suffix.lower() != ".csv" and not source.is_dir():
        return None
    places = [source / ABOUT_FILE, source.parent / ABOUT_FILE] if source.is_dir() else [source.parent / ABOUT_FILE]
    path = next((p for p in places if p.is_file()), None)
    if path is None:
        return None
    remedy = f'write it as {{"{REGISTER} id": "...", "{COMMIT}": 42}}, or take it away and decide what differs'
    try:
        with path.open("rb") as file:
            told = json.loads(file.read(LARGEST_ABOUT))
        given = {str(k).replace("_", " ").casefold(): v for k, v in told.items()}
        commit, register_id = given[COMMIT], given[ID]
        if isinstance(commit, bool) or not isinstance(commit, int) or not isinstance(register_id, str):
            raise TypeError("the commit is a whole number, the register id a text")
    except (OSError, ValueError, AttributeError, KeyError, TypeError, RecursionError) as error:
        return About(), Problem(path.name, f"cannot be read ({type(error).__name__}: {error})", remedy)
    return About(register_id, str(given.get(REGISTER) or ""), commit), None


def agreed(told: Sequence[tuple[str, About]]) -> tuple[About | None, list[Problem]]:
    """Return the one origin that all that tell one agree on (None: nobody tells one), else what they tell."""
    known = [(where, a) for where, a in told if a.register_id or a.commit is not None]
    if not known:
        return None, []
    first, origin = known[0]
    others = [(w, a) for w, a in known if (a.register_id, a.commit) != (origin.register_id, origin.commit)]
    problems: list[Problem] = [
        wrong(w, None, None, "", f"was taken from commit {a.commit} of register {a.register_id}, but {first!r} from "
              f"commit {origin.commit} of {origin.register_id}", "bring what was taken at one time in by itself")
        for w, a in others
    ]  # fmt: skip
    return origin, problems


def about_rows(
    register: str,
    register_id: str,
    commit: int,
    time_utc: str,
    sites: Sequence[str] | None,
    left_out: Sequence[str] = (),
    digest: str = "",
) -> list[tuple[str, str | int]]:
    """Return the sheet's rows: a word and what it says.

    left_out : tables whose plugin is not here; digest : of the commit, which tells it from one of the same number
    """
    return [
        ("what this is", WHAT),
        (REGISTER, register),
        (ID, register_id),
        (COMMIT, commit),
        *([(DIGEST, digest)] if digest else []),
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
        remedy = "write what was there, or delete the sheet: the headings of the other sheets tell the same"
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
        elif word == DIGEST:
            found.digest = str(value).strip()
        elif word == COMMIT:
            text = shown(value).strip()
            if re.fullmatch(r"-?[0-9]{1,15}", text):
                found.commit = int(text)
            else:
                bad(number, COMMIT, f"{text[:40]!r} is no commit number")
    return found, problems
