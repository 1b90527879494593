"""A workbook, a folder of .csv files or a firm's own list into the register: all of it as one commit, or nothing."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fibrebook.errors import BringInError, ConflictError, FibrebookError, InputError, NotFoundError, Problem, RuleError
from fibrebook.readers.bring_in.any_file import take_file
from fibrebook.readers.bring_in.compare import Difference, compare
from fibrebook.readers.bring_in.row_outcomes import fate_lines, refused_lines
from fibrebook.readers.bring_in.worth_a_look import after_commit, before_commit
from fibrebook.readers.files.about_sheet import (
    ABOUT,
    About,
)
from fibrebook.readers.files.parsed import Incoming, Taken, twice
from fibrebook.readers.files.report import Report, ReportLine, counted
from fibrebook.readers.files.sheets import shown, wrong
from fibrebook.register import Register
from fibrebook.register import open as open_register

if TYPE_CHECKING:
    from fibrebook.readers.layouts.layout import Layout
    from fibrebook.readers.lists.reading import Reading
    from fibrebook.register.commits.edit import Edit

BLANKS = "{} blank cell(s) cleared nothing: it is not known what the file was taken from, so a blank says nothing"


class BringInConflictError(BringInError, ConflictError):
    """A file meets cells that others changed since it was taken; has both `report` and `conflicts`, `pending`."""

    def __init__(self, message: str, problems: Sequence[Problem], report: Report, error: ConflictError) -> None:
        BringInError.__init__(self, message, problems, report)
        self.conflicts = error.conflicts
        self.pending = error.pending


def bring_in(
    reg: Register,
    path: str | os.PathLike[str] | Reading,
    by: str,
    why: str,
    dry_run: bool = False,
    layout: Layout | str | os.PathLike[str] | None = None,
    keep_pending: bool = True,
    keep_questions: bool = False,
) -> Report:
    """Bring a file into the register as one commit.

    Parameters
    ----------
    path : .xlsx or .ods, one sheet per table, column names in row 1; a folder of ``<table>.csv``; one ``<table>.csv``;
        or any spreadsheet that a layout describes; or a list of any shape as `read_list` reads it
    by, why : who and what for; kept with the commit
    dry_run : only tell what would happen; nothing is committed and nothing raised for what is wrong in the file
    layout : how to read a firm's own spreadsheet: a Layout, the path of its .toml, or the name of a plugin's;
        fibrebook/readers/layouts/LAYOUTS.md tells how one is written
    keep_questions : of a list: bring in what is sound though questions are open; the rest is kept as a workbook, with
        the reason beside each cell, and as snags
    keep_pending : keep the edit in the register where others changed the same cells, so that it can be decided there

    Returns
    -------
    Report : every row's fate; `commit` is None where nothing was to change; `said` is what advice and acceptance say of
        what came

    Raises
    ------
    BringInError : something is wrong; `report` and `problems` name every cell; the register is as it was
    BringInConflictError : others changed the same cells since the file was taken
    NotFoundError : no such file
    LayoutError : the layout itself is wrong

    Notes
    -----
    A file that does not tell which commit it was taken from adds records and fills blanks; every other value that
    differs is a conflict to be decided, since either may be the newer one.
    Every wrong cell of the file is collected first; only where there is none are the hard rules tried, and then every
    breach of one is collected.
    """
    from fibrebook.readers.lists.reading import Reading

    if isinstance(path, Reading):
        from fibrebook.readers.bring_in.from_list import bring_list_in

        return bring_list_in(reg, path, by, why, dry_run, keep_questions, keep_pending)
    source = Path(path)
    report = Report(source.name, dry_run=dry_run)
    try:
        taken, about = _take(source, layout, reg)
    except InputError as error:
        return refused(report, error.problems or (Problem("", error.message),), [], error)
    report.notes = tuple(taken.notes)
    report.lines = [ReportLine(sheet, None, "", (), "skipped", "", why_not) for sheet, why_not in taken.skipped]
    foreign = _origin_problems(about, reg)
    problems: list[Problem] = [*foreign, *taken.problems]
    if foreign:  # nothing to compare with
        return refused(report, problems, taken.tables)
    parts = [p for p in taken.tables if _has_keys(p)]
    problems += twice(parts)
    known = about is not None and about.commit is not None
    report.base = about.commit if about is not None and known else reg.commit
    base = open_register(reg.where, at=report.base)
    found = [compare(p, base) for p in parts]
    problems += _cleared_by_short_lines(found)
    if not known:
        blanks = sum(d.leave_blanks() for d in found)
        report.notes += (BLANKS.format(blanks),) if blanks else ()
    problems += _missing_removals(found)
    if problems:
        return refused(report, problems, taken.tables, None, found)
    edit = (reg.trial if dry_run else reg.edit)(by, why, base=report.base, what="bring in")
    edit.unsure = not known
    return commit_found(reg, report, found, edit, keep_pending)


def _take(source: Path, layout: Any, reg: Register) -> tuple[Taken, About | None]:
    if layout is not None:
        from fibrebook.readers.layouts.apply import take_with_layout

        return take_with_layout(source, layout, reg.own_codes(), reg.usual_code()), None
    return take_file(source, reg)


def _origin_problems(about: About | None, reg: Register) -> list[Problem]:
    """A workbook from another register, or from a commit that this one does not have."""
    if about is None:
        return []
    remedy = "or delete the sheet 'about' and what stands in row 1 behind 'remove', and decide each value that differs"
    if about.register_id and about.register_id != reg.id:
        name = f" {about.register!r}" if about.register else ""
        what = f"this workbook was taken from another register{name} (id {about.register_id}), not from {reg.name!r}"
        return [wrong(ABOUT, None, None, "", what, f"open that register, {remedy}")]
    if about.commit is not None and not 0 <= about.commit <= reg.commit:
        what = (
            f"it was taken from commit {about.commit}, but this register's newest is {reg.commit}: this is an older "
            "copy, or its newest commits were cut off"
        )
        return [wrong(ABOUT, None, None, "", what, f"look whether this is the right copy of the register, {remedy}")]
    if about.commit and about.digest and about.digest != reg.commit_digest(about.commit):
        what = f"commit {about.commit} of this register is another than the one that it was taken from"
        return [wrong(ABOUT, None, None, "", what, f"look whether this is the right copy of the register, {remedy}")]
    return []


def _has_keys(part: Incoming) -> bool:
    return all(k in part.table.column_names for k in part.kind.key)


def _missing_removals(found: Sequence[Difference]) -> list[Problem]:
    problems: list[Problem] = []
    for difference in found:
        part = difference.part
        if part.removal:
            for i in difference.new.nonzero()[0].tolist():
                if i not in part.bad:
                    what = f"there is no such {part.kind.singular} to remove"
                    problems.append(part.wrong(i, "", what, "mend its key or clear 'remove'", part.keys()[i]))
                    part.bad.add(i)
    return problems


def _cleared_by_short_lines(found: Sequence[Difference]) -> list[Problem]:
    """Values that a line of a .csv would clear only because it ends before their column."""
    problems: list[Problem] = []
    for difference in found:
        part = difference.part
        width = np.array(part.widths, np.int64)
        for name, changed in difference.changed.items():
            if name not in part.letters or not len(width):
                continue
            for i in np.flatnonzero(changed & (width < part.letters[name])).tolist():
                kept = shown(difference.base[name][int(difference.there[i])].as_py())
                what = f"the line ends before this column, in which the register has {kept[:40]!r}"
                remedy = "write every cell of the line; a blank one between two separators clears the value"
                problems.append(part.wrong(i, name, what, remedy, part.keys()[i]))
                part.bad.add(i)
    return problems


def commit_found(reg: Register, report: Report, found: list[Difference], edit: Edit, keep_pending: bool) -> Report:
    """Commit what was compared, and tell every row's fate; what is refused is told as `refused` tells it."""
    try:
        _fill(edit, found)
        left = edit.check() if report.dry_run else None
        if not report.dry_run:
            report.commit = edit.finish()
    except (RuleError, InputError, NotFoundError, ConflictError) as error:
        if isinstance(error, ConflictError) and error.pending and not keep_pending:
            reg.pending_drop(error.pending)
            error.pending = None
        problems = _traced(error, [d.part for d in found])
        return refused(report, problems, [d.part for d in found], error, found)
    report.lines += fate_lines(found)
    if left is not None:
        report.ask = before_commit(reg, left, report.lines)
    elif report.commit is not None:
        report.ask = after_commit(reg, report.commit, report.lines)
    return report


def _fill(edit: Edit, found: Sequence[Difference]) -> None:
    """Put and remove; removals first, so that a key may be given up and taken again by another table's rows."""
    for difference in found:
        if difference.part.removal:
            edit.remove(difference.part.kind.name, difference.part.table)
    for difference in found:
        if not difference.part.removal:
            for table in difference.groups():
                edit.put(difference.part.kind.name, table)


def _traced(error: FibrebookError, parts: Sequence[Incoming]) -> list[Problem]:
    """Name each problem of the register by the sheet and row that brought the record."""
    if not error.problems:
        return [Problem("", error.message)]
    homes = {(p.kind.name, key): (p, i) for p in parts for i, key in enumerate(p.keys())}
    return [_at_home(problem, homes) for problem in error.problems]


Homes = dict[tuple[str, tuple[Any, ...]], tuple[Incoming, int]]


def _at_home(problem: Problem, homes: Homes) -> Problem:
    """Return a problem, and what follows from it, as at the rows that brought the records."""
    follows = tuple(_at_home(p, homes) for p in problem.follows)
    records = ((problem.table, problem.key), *problem.also)
    keys = [(table, _bare(key)) for table, key in records]
    home = next(((at, homes[at]) for at in keys if at in homes), None)
    if home is None:
        where = f"in the register, {problem.where}" if problem.where else ""
        return replace(problem, where=where, row=None, follows=follows)
    (_, key), (part, i) = home
    part.bad.add(i)
    record = f"{part.kind.singular} {'/'.join(str(k) for k in key if k != '')}"
    column = problem.column if problem.column in part.letters or problem.column in part.cells else ""
    what, remedy = problem.what, problem.remedy
    if (part.kind.name, key) != keys[0]:  # the file brought the other one of two
        what = f"{what.partition(': also by')[0]}: also by {problem.where}"
    if problem.meant and (problem.meant[0], _bare(problem.meant[1])) in homes:
        meant, at = homes[problem.meant[0], _bare(problem.meant[1])]
        remedy = remedy.replace("?", f", as {meant.where(at)} has it?", 1)
    return replace(part.wrong(i, column, f"{record}: {what}", remedy, key), follows=follows)


def _bare(key: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple("" if k is None else k for k in key)


def refused(
    report: Report,
    problems: Sequence[Problem],
    parts: Sequence[Incoming],
    error: FibrebookError | None = None,
    found: Sequence[Difference] = (),
) -> Report:
    """Finish the report of a file that cannot be brought in; raise it unless this is a dry run."""
    report.problems = tuple(problems)
    report.commit = None
    report.conflict = isinstance(error, ConflictError)
    report.lines += refused_lines(problems, parts, found if report.dry_run else ())
    if report.dry_run:
        return report
    message = f"{report.source} was not brought in: {counted(problems)}; nothing was changed"
    if isinstance(error, ConflictError):
        kept = f"; the edit is kept as {error.pending!r}" if error.pending else ""
        raise BringInConflictError(f"{message}{kept}", problems, report, error) from error
    raise BringInError(message, problems, report) from error
