"""A report's lines: what became of each row of the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fibrebook.errors import Problem
from fibrebook.readers.bring_in.compare import Difference
from fibrebook.readers.files.parsed import Incoming
from fibrebook.readers.files.report import CellProblem, ReportLine

WITH_THE_REST = "nothing of the file was brought in"
CORE_STAYS = "nothing more is said of it; the core itself belongs to its cable"


def fate_lines(found: Sequence[Difference]) -> list[ReportLine]:
    """Return one line a row: added, changed (which columns, from what to what), unchanged, removed."""
    lines = []
    for difference in found:
        part = difference.part
        fates, changed = difference.fates().tolist(), difference.any_changed
        cores_removed = part.removal and part.kind.name == "cores"
        for i, (key, (sheet, row)) in enumerate(zip(part.keys(), part.places, strict=True)):
            column, message = difference.told(i) if changed[i] else ("", CORE_STAYS if cores_removed else "")
            lines.append(ReportLine(sheet, row, part.kind.name, key, fates[i], column, message))
    return lines


def refused_lines(
    problems: Sequence[Problem], parts: Sequence[Incoming], found: Sequence[Difference] = ()
) -> list[ReportLine]:
    """Return the lines of a file that is refused: one for each problem, and one for each row that has none.

    found : where given, rows without a problem are told what would have become of them.
    """
    problems = [each for p in problems for each in (p, *p.follows)]
    lines = [_problem_line(p) for p in problems]
    told = {id(difference.part): fate_lines([difference]) for difference in found}
    for part in parts:  # record by record: one line of a list may make several records of a table
        fates = told.get(id(part))
        for i, (key, (sheet, row)) in enumerate(zip(part.keys(), part.places, strict=True)):
            if i not in part.bad:
                lines.append(
                    fates[i] if fates else ReportLine(sheet, row, part.kind.name, key, "refused", "", WITH_THE_REST)
                )
    return lines


def _problem_line(problem: Problem) -> ReportLine:
    what = f"{problem.what} → {problem.remedy}" if problem.remedy else problem.what
    line = ReportLine("", None, problem.table, problem.key, "refused", problem.column, what)
    if isinstance(problem, CellProblem):
        return replace(line, sheet=problem.sheet, row=problem.row)
    return replace(line, message=f"{problem.where}: {what}" if problem.where else what)
