"""A day's work at a site before it is saved: what each section adds, what it changes, what advice it causes."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from fibrebook.analyses.advice import all_advice
from fibrebook.analyses.firm import firm_values
from fibrebook.analyses.situation import Advice, Situation
from fibrebook.errors import InputError
from fibrebook.records.fields import Kind
from fibrebook.records.kinds import KINDS
from fibrebook.reference.firm import honoured
from fibrebook.register.cores import full_cores

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register
    from fibrebook.register.edit import Edit

Row = dict[str, Any]
Rows = Mapping[str, Sequence[Row]]
NOBODY = "?"


@dataclass
class Part:
    """What one section, at one place, adds: rows to put by kind of record, and a line that says what it is."""

    title: str
    put: dict[str, list[Row]] = field(default_factory=dict)


def _are_rows(kind: Kind, rows: Any) -> bool:
    """Tell whether these are rows of a kind in plain values, each with its key."""
    plain = (str, int, float, bool, type(None))
    return isinstance(rows, list) and all(
        set(kind.key) <= set(row) <= set(kind.names) and all(isinstance(v, plain) for v in row.values()) for row in rows
    )


@dataclass
class Day:
    """A visit in the making. Rows are plain values (dates as 2026-03-31), so that a draft can hold them.

    Attributes
    ----------
    base : commit that the engineer saw when the day began; what others save since is merged at the end
    parts : by source, such as "tray P1 C1"; a section replaces its own parts as often as it likes
    """

    reg: Register
    site: str = ""
    by: str = ""
    on: str = field(default_factory=lambda: dt.date.today().isoformat())
    done: str = ""
    base: int = -1
    parts: dict[str, Part] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.base < 0:
            self.base = self.reg.commit

    # --- what is in it -----------------------------------------------------------------------------------------------
    def keep(self, source: str, title: str, put: Rows) -> None:
        """Take a section's rows in place of what it gave before; none = the part is taken out."""
        rows = {kind: [dict(r) for r in given] for kind, given in put.items() if given}
        if rows:
            if not self.parts:
                self.base = self.reg.commit  # nothing was typed before, so nothing older was relied on
            self.parts[source] = Part(title, rows)
        else:
            self.parts.pop(source, None)

    def drop(self, source: str) -> None:
        """Take a part out."""
        self.parts.pop(source, None)

    def as_json(self) -> dict[str, Any]:
        """Return the day as plain values."""
        parts = {s: {"title": p.title, "put": p.put} for s, p in self.parts.items()}
        return {n: getattr(self, n) for n in ("site", "by", "on", "done", "base")} | {"parts": parts}

    @staticmethod
    def from_json(reg: Register, kept: Mapping[str, Any]) -> Day:
        """Return a day as it was kept. Raises InputError where that is not what a day is kept as."""
        try:
            head = {n: kept[n] for n in ("site", "by", "on", "done", "base")}
            parts = {s: Part(p["title"], p["put"]) for s, p in kept["parts"].items()}
            dt.date.fromisoformat(head["on"])
            texts = [head[n] for n in ("site", "by", "done")] + [p.title for p in parts.values()]
            sound = all(isinstance(t, str) for t in texts) and type(head["base"]) is int
            sound &= all(_are_rows(KINDS[name], rows) for p in parts.values() for name, rows in p.put.items())
        except (KeyError, TypeError, ValueError, AttributeError):
            sound = False
        if not sound or head["base"] > reg.commit:
            raise InputError("this draft is not as it was kept: it was changed by hand, or belongs to another register")
        return Day(reg, **head, parts=parts)

    def rows(self, but: str = "") -> dict[str, list[Row]]:
        """Everything to be put, by kind; of a key given twice, cells given later go before."""
        out: dict[str, dict[tuple[Any, ...], Row]] = {}
        for part in (p for source, p in self.parts.items() if source != but):
            for name, rows in part.put.items():
                kind = KINDS[name]
                for row in rows:
                    out.setdefault(name, {}).setdefault(_key(kind, row), {}).update(row)
        return {name: list(rows.values()) for name, rows in out.items()}

    # --- what it would be --------------------------------------------------------------------------------------------
    def edit(self, base: int | None = None, visit: bool = False, but: str = "") -> Edit:
        """Return an edit that holds the whole day, not committed; with `visit` the visit's own row too."""
        edit = self.reg.edit(by=self.by or NOBODY, why=self.why, base=base)
        found = self.rows(but)
        if visit and found:
            found.setdefault("visits", []).append(self._visit())
        for kind in KINDS:
            if kind in found:
                edit.put(kind, found[kind])
        return edit

    @property
    def why(self) -> str:
        """What the commit says it was for."""
        return " ".join(self.done.split()) or f"visit of {self.on}"

    def _visit(self) -> Row:
        taken = set(self.stored(["visits"])["visits"]["visit"].to_pylist())
        label, number = self.on, 1
        while label in taken:
            number += 1
            label = f"{self.on}-{number}"
        return {"site": self.site, "visit": label, "visited_on": self.on, "visited_by": self.by, "done": self.done}

    def stored(self, names: Sequence[str] | None = None) -> dict[str, pa.Table]:
        """Return the site's tables as they are in the register; empty ones for a site that is new."""
        if self.site and self.reg.has_site(self.site):
            return self.reg.tables(self.site, names)
        return {n: KINDS[n].empty() for n in (names or KINDS)}

    def tables(self, but: str = "") -> dict[str, pa.Table]:
        """Return the site's tables as they would be, on top of what is in the register now; `but`: without one part."""
        tables = self.stored()
        if self.parts.keys() - {but}:
            tables |= self.edit(but=but).proposal().mine
        return tables

    def tables_with(self, kind: str, rows: Sequence[Row]) -> dict[str, pa.Table]:
        """Return the tables as they would be with some more rows of one kind."""
        edit = self.edit()
        edit.put(kind, rows)
        return self.stored() | edit.proposal().mine

    def cores(self, tables: Mapping[str, pa.Table] | None = None) -> pa.Table:
        """Return every core of the site as it would be."""
        tables = tables or self.tables()
        return full_cores(tables["cables"], tables["cores"], self.reg.own_codes())

    def preview(self) -> pd.DataFrame:
        """Return what saving would change, in the columns of the history."""
        return self.edit(visit=True).preview()

    def check(self) -> None:
        """Raise the RuleError or ConflictError that saving now would raise."""
        self.edit(self.base, visit=True).check()

    def advice(self) -> tuple[list[Advice], list[Advice]]:
        """Return the advice that the day causes, and the advice that it settles."""
        codes, today = self.reg.own_codes(), dt.date.today()
        firm = ("choices", "reference_values")
        own = self.reg.tables(names=firm)
        with honoured(firm_values(self.reg)):
            before = all_advice(Situation({**self.stored(), **own}, today, codes))
            after = all_advice(Situation({**self.tables(), **own}, today, codes))
        return [a for a in after if a not in set(before)], [a for a in before if a not in set(after)]

    def save(self) -> int | None:
        """Commit the day on the base that the engineer saw; return the commit.

        Raises
        ------
        InputError : who or where is not said; RuleError; ConflictError (the day is kept as a pending edit)
        """
        if not self.site:
            raise InputError("no site is chosen: choose it first")
        if not self.by.strip():
            raise InputError("who did the work is not said: give your initials")
        return self.edit(self.base, visit=True).finish()


def _key(kind: Kind, row: Row) -> tuple[Any, ...]:
    return tuple(str(row.get(k) if row.get(k) is not None else "") for k in kind.key)


def in_words(changes: pd.DataFrame) -> list[str]:
    """Return what a preview would change, a line each: how many records of a kind, and which."""
    lines = []
    for table in dict.fromkeys([*KINDS, *changes["table"]]):
        here = changes[changes["table"] == table]
        for op, word in (("added", "new"), ("changed", "changed"), ("removed", "removed")):
            keys = list(dict.fromkeys(here[here["op"] == op]["key"].tolist()))
            if keys:
                lines.append(f"{_count(table, len(keys))} {word}: {_some(keys)}")
    return lines


def cell_by_cell(changes: pd.DataFrame) -> pd.DataFrame:
    """Return changes as people read them: table, record, column, before, after, what (added, changed, removed)."""
    record = [" / ".join(str(v) for v in key if v not in (None, "")) for key in changes["key"]]
    titles = [
        KINDS[t].by_name[c].title if t in KINDS and c in KINDS[t].by_name else (c or "")
        for t, c in zip(changes["table"], changes["column"], strict=True)
    ]
    told = changes.assign(record=record, column=titles, what=changes["op"])
    return told[["table", "record", "column", "before", "after", "what"]]


def _count(table: str, n: int) -> str:
    kind = KINDS.get(table)  # none for a table whose plugin is not here
    if kind is None:
        return f"{n} of {table}"
    return f"{n} {kind.singular if n == 1 else kind.name.replace('_', ' ')}"


def _some(keys: Sequence[tuple[Any, ...]]) -> str:
    shown = [" / ".join(str(v) for v in k[1:] if v not in (None, "")) or str(k[0]) for k in keys]
    if len(shown) > 4:
        return f"{shown[0]} to {shown[-1]}"
    return ", ".join(shown)


def advice_words(advice: Sequence[Advice]) -> list[str]:
    """Return advice a line each; the same thing said of many records is said once, with how many."""
    told = Counter((a.check, a.do) for a in advice)
    first = {(a.check, a.do): a for a in reversed(advice)}
    out = []
    for key, count in told.items():
        a = first[key]
        more = f" (and {count - 1} more like it)" if count > 1 else ""
        out.append(f"{a.table} {a.record}: {a.what}{more}. {a.do[:1].upper()}{a.do[1:]}")
    return out
