"""Tests on paper: each loss test beside its limit, by reference method and instrument; then OTDR and light checks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from itertools import groupby
from pathlib import Path
from typing import Any

from fibrebook.analyses.tested.acceptance import acceptance_table, verdict_in_words
from fibrebook.errors import InputError, Problem
from fibrebook.readers.files.text_table import read_text_table
from fibrebook.sheets.hand_over.premises import OwnPart
from fibrebook.sheets.paper.place_codes import place_code
from fibrebook.sheets.paper.sections import Block, PaperSection, heading, table, words
from fibrebook.sheets.paper.wording import Wording
from fibrebook.sheets.site_facts import Row
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.words.labels import natural

LOSS_TEST = "loss test"
LOSS_TESTS = {  # heading -> share of the line
    "From": 2.2, "To": 2.2, "nm": 0.8, "Way": 1, "Loss dB": 0.8, "Limit dB": 0.8, "Margin dB": 0.9, "Verdict": 1.6,
    "Tested": 1.9,
}  # fmt: skip
OTHERS = {
    "From": 2.2, "To": 2.2, "nm": 0.8, "Way": 1, "Loss dB": 0.9, "Length m": 1, "Recorded as": 1.3, "Tested": 1.9,
}  # fmt: skip


def read_calibrations(path: Path | str) -> dict[str, dt.date]:
    """Read a .csv with the columns instrument and calibrated_on (as 2026-03-31): instrument -> day.

    Raises
    ------
    InputError : the file cannot be read, lacks a column, or holds a day that is none, row by row
    """
    head, *rows = read_text_table(Path(path))
    names = [name.strip().casefold() for name in head]
    if not {"instrument", "calibrated_on"} <= set(names):
        raise InputError(f"{path} must have the columns instrument and calibrated_on; it has {', '.join(head)[:80]!r}")
    which, on = names.index("instrument"), names.index("calibrated_on")
    found, wrong = {}, []
    for number, row in enumerate(rows, 2):
        cells = [*row, *[""] * (len(names) - len(row))]
        try:
            if any(cell.strip() for cell in cells):
                found[cells[which].strip()] = dt.date.fromisoformat(cells[on].strip())
        except ValueError:
            wrong.append(Problem(f"row {number}", f"{cells[on][:40]!r} is no day", "write it as 2026-03-31"))
    if wrong:
        raise InputError(f"{len(wrong)} calibration date(s) in {path} cannot be read", wrong)
    return found


def tests_section(
    seen: PlantSnapshot, site: str, calibrated: Mapping[str, dt.date], part: OwnPart | None, personal: bool, w: Wording
) -> PaperSection:
    """Return the tests of a site that stand: where one was made again, the newest.

    Loss, limit, margin and verdict are those of `acceptance`; of other methods the verdict is as it was recorded.
    """
    own = {row["test"]: row for row in seen.table("tests").to_pylist()}
    judged = [own[row["test"]] | row for row in acceptance_table(seen).to_pylist()]
    judged = [row for row in judged if _of(row, part)]
    newest = [row for row in judged if row["later_test"] is None]
    blocks: list[Block] = []
    for (reference, instrument, edition), rows in _grouped(newest, ("reference_method", "instrument", "edition")):
        told = [
            w.say("Loss tests"),
            w.say("reference method {method}", method=reference or w.say("not recorded")),
            *_instrument(instrument, calibrated, w),
            w.say("limits of {edition}", edition=edition),
        ]
        blocks += [heading("; ".join(told)), *_lines(LOSS_TESTS, [_loss_test(r, part, personal) for r in rows], w)]
    before = len(judged) - len(newest)
    if before:
        blocks.append(words(w.say("{count} earlier loss tests, made again since, are left out.", count=before)))
    others = [row for row in own.values() if row["method"] != LOSS_TEST and _of(row, part)]
    for (method, instrument), rows in _grouped(others, ("method", "instrument")):
        told = [method or w.say("not recorded"), *_instrument(instrument, calibrated, w)]
        blocks += [heading("; ".join(told)), *_lines(OTHERS, [_other(r, part, personal) for r in rows], w)]
    return PaperSection(w.say("Tests"), place_code(site, "tests"), blocks)


def _lines(columns: Mapping[str, float], rows: Iterable[list[Any]], w: Wording) -> list[Block]:
    return table([w.say(head) for head in columns], list(columns.values()), rows)


def _loss_test(row: Row, part: OwnPart | None, personal: bool) -> list[Any]:
    figures = [_db(row[c]) for c in ("loss_db", "limit_db", "margin_db")]
    verdict = verdict_in_words(row["verdict"], row["side"])
    return [*_ends(row, part), row["wavelength_nm"], row["direction"], *figures, verdict, _when(row, personal)]


def _other(row: Row, part: OwnPart | None, personal: bool) -> list[Any]:
    figures = [_db(row["loss_db"]), row["length_m"], row["verdict"]]
    return [*_ends(row, part), row["wavelength_nm"], row["direction"], *figures, _when(row, personal)]


def _of(row: Row, part: OwnPart | None) -> bool:
    return part is None or row["cable"] in part.cables or bool({row["from_at"], row["to_at"]} & part.own)


def _grouped(rows: Iterable[Row], by: tuple[str, ...]) -> list[tuple[tuple[str, ...], list[Row]]]:
    def group(row: Row) -> tuple[str, ...]:
        return tuple(str(row[c] or "") for c in by)

    def order(row: Row) -> tuple[object, ...]:
        core = natural(str(row["core"] or ""))
        ends = [natural(str(row[c] or "")) for c in ("cable", "from_at", "from_port", "from_position", "to_at")]
        return group(row), *ends, core, row["wavelength_nm"] or 0, str(row["direction"])

    return [(key, list(found)) for key, found in groupby(sorted(rows, key=order), key=group)]


def _instrument(name: str, calibrated: Mapping[str, dt.date], w: Wording) -> list[str]:
    told = [name or w.say("instrument not recorded")]
    if name in calibrated:
        told.append(w.say("calibrated on {day}", day=calibrated[name].isoformat()))
    return told


def _ends(row: Row, part: OwnPart | None) -> list[str]:
    if row["cable"] and not row["from_at"]:
        return [f"{row['cable']} core {row['core']}", ""]
    return [_end(row, end, part) for end in ("from", "to")]


def _end(row: Row, end: str, part: OwnPart | None) -> str:
    at = row[f"{end}_at"]
    if part is not None and part.place(at) != (at or ""):
        return part.beyond
    return "/".join(str(row[f"{end}_{c}"]) for c in ("at", "port", "position") if row[f"{end}_{c}"])


def _db(value: float | None) -> str:
    return "" if value is None or value != value else f"{value:.2f}"


def _when(row: Row, personal: bool) -> str:
    day = "" if row["tested_on"] is None else row["tested_on"].isoformat()
    return f"{day} {row['tested_by']}" if personal and row["tested_by"] else day
