"""A day's work at a site before it is saved: what each section adds, what it changes, what advice it causes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from fibrebook.analyses.advice.advice import all_advice
from fibrebook.analyses.advice.situation import Advice, Situation
from fibrebook.errors import ConflictError, FibrebookError, InputError, RuleError
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.register.row_files.cores import full_cores
from fibrebook.snapshot.snapshot import PlantSnapshot

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register
    from fibrebook.register.commits.edit import Edit

Row = dict[str, Any]
Rows = Mapping[str, Sequence[Row]]
NOBODY = "?"


@dataclass
class DraftPart:
    """What one section, at one place, adds: rows to put by kind of record, and a line that says what it is."""

    title: str
    put: dict[str, list[Row]] = field(default_factory=dict)


@dataclass(frozen=True)
class _Look:
    """The site as a day would leave it, by what it was made of; the edit, and why a save would be refused."""

    key: str
    seen: PlantSnapshot
    edit: Edit | None = None
    refused: FibrebookError | None = None


def are_rows(kind: Kind, rows: Any) -> bool:
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
    parts: dict[str, DraftPart] = field(default_factory=dict)
    _looks: dict[str, _Look] = field(default_factory=dict, init=False, repr=False, compare=False)
    _advised: tuple[PlantSnapshot, list[Advice]] | None = field(default=None, init=False, repr=False, compare=False)

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
            self.parts[source] = DraftPart(title, rows)
        else:
            self.parts.pop(source, None)

    def sign(self, by: str) -> None:
        """Take other initials; rows of every part that bear the day's own follow.

        A part may be kept while they are being typed: it would bear the first letter only.
        """
        before, self.by = self.by, by
        for part in self.parts.values():
            for row in (r for rows in part.put.values() for r in rows):
                row.update({n: by for n, v in row.items() if n.endswith("_by") and v == before})

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
            parts = {s: DraftPart(p["title"], p["put"]) for s, p in kept["parts"].items()}
            dt.date.fromisoformat(head["on"])
            texts = [head[n] for n in ("site", "by", "done")] + [p.title for p in parts.values()]
            sound = all(isinstance(t, str) for t in texts) and type(head["base"]) is int
            sound &= all(are_rows(KINDS[name], rows) for p in parts.values() for name, rows in p.put.items())
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

    def seen(self, but: str = "") -> PlantSnapshot:
        """Return the site as it would be, on top of what is in the register now; `but`: without one part.

        It is made once for all who look, and again only when the day or the register has changed. Where a save would be
        refused, the day's rows lie over the newest ones as they were typed.
        """
        return self._look(but).seen

    def tables(self, but: str = "") -> dict[str, pa.Table]:
        """Return the site's tables as they would be; `but`: without one part."""
        seen = self.seen(but)
        return {kind: seen.table(kind) for kind in KINDS}

    def seen_with(self, kind: str, rows: Sequence[Row]) -> PlantSnapshot:
        """Return the site as it would be with some more rows of one kind."""
        edit = self.edit()
        edit.put(kind, rows)
        return PlantSnapshot.of_site_or_new(self.reg, self.site).with_tables(edit.proposal().mine)

    def cores(self, tables: Mapping[str, pa.Table] | None = None) -> pa.Table:
        """Return every core of the site as it would be."""
        if tables is None:
            return self.seen().cores
        return full_cores(tables["cables"], tables["cores"], dict(self.seen().values.own_codes))

    def preview(self) -> pd.DataFrame:
        """Return what saving would change, in the columns of the history."""
        found = self._look()
        return (found.edit or self.edit(visit=True)).preview()

    def check(self) -> None:
        """Raise the RuleError or ConflictError that saving now would raise."""
        refused = self._look().refused
        if refused is not None:
            raise refused

    def advice(self) -> tuple[list[Advice], list[Advice]]:
        """Return the advice that the day causes, and the advice that it settles."""
        stored = PlantSnapshot.of_site_or_new(self.reg, self.site)
        if self._advised is None or self._advised[0] is not stored:
            self._advised = (stored, all_advice(Situation(stored)))
        before, after = self._advised[1], all_advice(Situation(self.seen()))
        return [a for a in after if a not in set(before)], [a for a in before if a not in set(after)]

    def _look(self, but: str = "") -> _Look:
        parts = {source: p.put for source, p in self.parts.items() if source != but}
        key = repr((self.reg.commit, self.base, self.site, self.by, self.on, self.why, parts))
        found = self._looks.get(but)
        if found is None or found.key != key:
            found = self._looks[but] = self._looked(key, but, bool(parts))
        return found

    def _looked(self, key: str, but: str, any_rows: bool) -> _Look:
        if not any_rows:
            return _Look(key, PlantSnapshot.of_site_or_new(self.reg, self.site))
        edit = self.edit(self.base, visit=True, but=but)
        try:
            return _Look(key, PlantSnapshot.proposed(self.reg, edit, self.site), edit)
        except (ConflictError, RuleError) as error:
            newest = edit if self.base == self.reg.commit else self.edit(visit=True, but=but)
            stored = PlantSnapshot.of_site_or_new(self.reg, self.site)
            return _Look(key, stored.with_tables(newest.proposal().mine), edit, error)

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
