"""A list of any shape into the register: what was confirmed as one commit; what is still asked is kept, and why."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from fibrebook.errors import ConflictError, FibrebookError, Problem, RuleError
from fibrebook.readers.bring_in.bring_in import commit_found, refused
from fibrebook.readers.bring_in.compare import compare
from fibrebook.readers.bring_in.left_over import write_left_over
from fibrebook.readers.files.parsed import Incoming, Taken, convert
from fibrebook.readers.files.report import Report
from fibrebook.readers.files.sheets import wrong
from fibrebook.readers.layouts.apply import only_said
from fibrebook.readers.lists.asking import means_yes
from fibrebook.readers.lists.facts import Fact, Key
from fibrebook.readers.lists.reading import Reading
from fibrebook.records import KINDS
from fibrebook.register import open as open_register

if TYPE_CHECKING:
    from fibrebook.register import Register

Records = dict[str, dict[Key, Fact]]
MOST_SNAGS = 50
MOST_ROUNDS = 30  # of leaving out what the register refuses, where what is sound is to come in
LONGEST = 200  # characters of a snag


def bring_list_in(
    reg: Register, reading: Reading, by: str, why: str, dry_run: bool, keep_questions: bool, keep_pending: bool
) -> Report:
    """Bring a list in; parameters and errors as `bring_in`.

    Without `keep_questions` every question must have its answer first. With it, the rows of confirmed tables come in
    that neither wait for an answer nor are refused by the register's rules.
    """
    report = Report(reading.book.name, dry_run=dry_run, base=reg.commit)
    if reading.asked and not keep_questions:
        problems = [_problem_of(q) for q in reading.asked]
        return refused(report, problems, [], FibrebookError("questions are open"))
    records = _confirmed(reading)
    given = f"{why} ({reading.book.name}, sha256 {reading.book.digest[:12]})"
    refused_rows: list[Problem] = []
    if keep_questions:
        records, refused_rows = _sound(reg, records, by, given)
    extra = _snags(reading, records, refused_rows) if keep_questions and not dry_run else {}
    taken = _taken(records)
    if taken.problems:
        return refused(report, taken.problems, taken.tables)
    if extra:
        taken.tables += _taken({"snags": extra}).tables
    base = open_register(reg.where, at=reg.commit)
    found = [compare(part, base) for part in taken.tables]
    for difference in found:
        difference.leave_blanks()
    edit = (reg.trial if dry_run else reg.edit)(by, given, base=reg.commit, what="bring in")
    edit.unsure = True
    report = commit_found(reg, report, found, edit, keep_pending)
    if keep_questions and not dry_run and (reading.asked or refused_rows):
        kept = write_left_over(reading, refused_rows)
        report.notes += (f"what is still asked is kept in {kept}, with the reason beside each cell, and as snags",)
    return report


def _problem_of(question: Any) -> Problem:
    sheet, (row, column) = question.cells[0] if question.cells else (question.sheet, (0, 0))
    remedy = f"answer it: {' / '.join(question.proposals)}" if question.proposals else "answer it"
    return wrong(sheet, row or None, column or None, "", question.what, remedy)


def _confirmed(reading: Reading) -> Records:
    """Return the records of tables whose sentence was confirmed, and of which the site is known."""
    answers = reading.said.answers
    sure = {n for n, (_, _, key) in enumerate(reading.whole.blocks) if means_yes(answers.get(key, ""))}
    out: Records = {}
    for kind in KINDS:
        for key, fact in reading.whole.facts.by_kind.get(kind, {}).items():
            if fact.blocks & sure and fact.values.get("site"):
                out.setdefault(kind, {})[key] = fact
    return out


def _sound(reg: Register, records: Records, by: str, why: str) -> tuple[Records, list[Problem]]:
    """Leave out, round by round, what the register refuses and what rests on it."""
    kept = {kind: dict(rows) for kind, rows in records.items()}
    gone: list[Problem] = []
    base = open_register(reg.where, at=reg.commit)
    for _ in range(MOST_ROUNDS):
        taken = _taken(kept)
        problems = list(taken.problems)
        if not problems:
            try:
                edit = reg.trial(by, why, base=reg.commit, what="bring in")
                edit.unsure = True
                for part in taken.tables:
                    for table in compare(part, base).groups():
                        edit.put(part.kind.name, table)
                edit.check()
            except (RuleError, ConflictError) as error:
                problems = list(error.problems)
            except FibrebookError:
                return kept, gone  # told by the commit itself
        named = [p for problem in problems for p in (problem, *problem.follows)]
        out = {(p.table, tuple("" if k is None else k for k in p.key)) for p in named}
        out |= {(t, tuple("" if k is None else k for k in k2)) for p in named for t, k2 in p.also}
        before = sum(map(len, kept.values()))
        kept = {kind: {k: f for k, f in rows.items() if (kind, k) not in out} for kind, rows in kept.items()}
        if sum(map(len, kept.values())) == before:
            return kept, gone
        gone += problems
    return kept, gone


def _taken(records: Records) -> Taken:
    taken = Taken()
    for name in KINDS:
        rows = list(records.get(name, {}).values())
        if rows:
            part = _incoming(name, rows)
            taken.problems += only_said(part, convert(part))
            taken.tables.append(part)
    return taken


def _incoming(name: str, rows: Sequence[Fact]) -> Incoming:
    kind = KINDS[name]
    columns = [c.name for c in kind.columns if c.name in kind.key or any(c.name in f.values for f in rows)]
    values = {n: [f.values.get(n) for f in rows] for n in columns}
    places = [(f.cells[0][0], f.cells[0][1][0]) if f.cells else ("", 0) for f in rows]
    part = Incoming(kind, values, places)
    at: list[tuple[str, int, int | None]] = [
        (f.cells[0][0], *f.cells[0][1]) if f.cells else ("", 0, None) for f in rows
    ]
    part.cells = dict.fromkeys(columns, at)
    for n in columns:
        mask = np.array([n in f.values for f in rows])
        if n not in kind.key and not mask.all():
            part.said[n] = mask
    return part


def _snags(reading: Reading, records: Records, refused_rows: Sequence[Problem]) -> dict[Key, Fact]:
    """Return a snag for each open question and refused row, at the list's site."""
    sites = [key[0] for key in records.get("sites", {})]
    if not sites:
        return {}
    told = [(q.what, q.cells[0] if q.cells else None) for q in reading.asked]
    told += [(str(p), None) for p in refused_rows]
    out: dict[Key, Fact] = {}
    for number, (what, cell) in enumerate(told[:MOST_SNAGS], 1):
        name = f"list {reading.book.digest[:6]}-{number}"
        where = f"{reading.book.name}, {cell[0]}, row {cell[1][0]}" if cell else reading.book.name
        values = {"site": sites[0], "snag": name, "found_on": dt.date.today(), "what": what[:LONGEST], "where": where}
        out[sites[0], name] = Fact(values, [cell] if cell else [])
    return out
