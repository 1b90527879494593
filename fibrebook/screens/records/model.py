"""A form for any kind of record, made from its declaration: choices, checks, what would change. No widget here."""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa

from fibrebook.errors import InputError, NotFoundError
from fibrebook.records.kinds.declared import Column, Kind, Link
from fibrebook.records.values.to_columns import kind_of, to_table
from fibrebook.words.labels import natural

Row = dict[str, Any]
Tables = Mapping[str, pa.Table]


@dataclass
class FormModel:
    """One record being written or changed.

    Attributes
    ----------
    tables : the site's records by kind, `cores` in full; the choices come from them
    values : column -> what is typed, "" = blank
    key : key of the record that is changed, None for a new one
    """

    kind: Kind
    tables: Tables
    site: str = ""
    values: dict[str, str] = field(default_factory=dict)
    key: tuple[Any, ...] | None = None

    @staticmethod
    def of(kind: str, tables: Tables, site: str = "") -> FormModel:
        """Return an empty form of a kind by its name."""
        model = FormModel(kind_of(kind), tables, site)
        model.clear()
        return model

    @property
    def columns(self) -> list[Column]:
        """The columns to fill in, in order; the site is given already."""
        given = {"site"} if self.kind.scope == "site" and self.kind.name != "sites" else set()
        return [c for c in self.kind.columns if c.name not in given]

    def clear(self) -> None:
        """Begin a new record."""
        self.values, self.key = {c.name: "" for c in self.columns}, None

    # --- records that are there --------------------------------------------------------------------------------------
    def records(self) -> dict[str, tuple[Any, ...]]:
        """Return the records of this kind: as read on the label -> key."""
        names = [k for k in self.kind.key if k != "site"] or ["site"]
        keys = self.tables[self.kind.name].select(list(self.kind.key)).to_pylist()
        read = {" / ".join(str(k[n]) for n in names if k[n] not in (None, "")): tuple(k.values()) for k in keys}
        return dict(sorted(read.items(), key=lambda item: natural(item[0])))

    def load(self, key: tuple[Any, ...]) -> None:
        """Begin to change a record that is there.

        Raises
        ------
        NotFoundError
        """
        found = self._row(key)
        if found is None:
            raise NotFoundError(f"there is no {self.kind.singular} {' / '.join(map(str, key))} any more")
        self.values, self.key = {c.name: as_typed(found[c.name]) for c in self.columns}, key

    def _row(self, key: tuple[Any, ...]) -> Row | None:
        table = self.tables[self.kind.name]
        keys = zip(*(table[k].to_pylist() for k in self.kind.key), strict=True)
        at = next((i for i, k in enumerate(keys) if tuple(k) == tuple(key)), None)
        return None if at is None else dict(table.slice(at, 1).to_pylist()[0])

    # --- choices -----------------------------------------------------------------------------------------------------
    def choices(self, name: str) -> list[str]:
        """Return what a column may hold: its declared words, or the labels that its link may name."""
        column = self.kind.by_name[name]
        if column.type == "yes/no":
            return ["yes", "no"]
        if column.allowed:
            return list(column.allowed)
        link = self._link(name)
        if link is None:
            return []
        place = link.columns.index(name)
        before = [self.values.get(n, "") for n in link.columns[:place]]
        found = {t[place] for t in self._targets(link) if list(t[:place]) == before and len(t) > place}
        return sorted(found - {""}, key=natural)

    def _link(self, name: str) -> Link | None:
        return next((link for link in self.kind.links if name in link.columns), None)

    def _targets(self, link: Link) -> set[tuple[str, ...]]:
        """Keys that a link may name, as typed, cut to its length."""
        out: set[tuple[str, ...]] = set()
        for name in link.to:
            names = list(kind_of(name).own_key)[: len(link.columns)]
            table = self.tables[name]
            columns = [[as_typed(v) for v in table[n].to_pylist()] for n in names]
            out.update(zip(*columns, strict=True))
        return out

    # --- checks ------------------------------------------------------------------------------------------------------
    def row(self) -> Row:
        """Return what is typed as a row: blanks as None, the site with it.

        A core is always there, made from its cable: more said of one leaves alone what is left blank.
        """
        row = {n: (v.strip() or None) if isinstance(v, str) else v for n, v in self.values.items()}
        if self._made_from_another and self.key is None:
            row = {n: v for n, v in row.items() if v is not None or n in self.kind.key}
        return row if self.kind.scope == "firm" or self.kind.name == "sites" else {"site": self.site or None, **row}

    @property
    def _made_from_another(self) -> bool:
        return any(c.generated for c in self.kind.columns)

    def faults(self) -> dict[str, str]:
        """Return what is wrong, in words, by column: values, names that are not there, a label used already."""
        table, problems = to_table(self.kind, [self.row()])
        out = {p.column: f"{p.what}: {p.remedy}" if p.remedy else p.what for p in problems}
        for link in self.kind.links:
            out = {**self._link_faults(link, table), **out}
        if not out and self.key is None and not self._made_from_another:
            key = tuple(table[k][0].as_py() for k in self.kind.key)
            if self._row(key) is not None:
                own = next((k for k in reversed(self.kind.own_key) if self.values.get(k)), self.kind.key[-1])
                out[own] = f"there is such a {self.kind.singular} already: change that one, or give another label"
        return out

    def _link_faults(self, link: Link, table: pa.Table) -> dict[str, str]:
        names = [n for n in link.columns if n in table.column_names]
        given = [as_typed(table[n][0].as_py()) for n in names]
        last = max((i for i, g in enumerate(given) if g), default=-1)
        if last < 0:
            return {}
        targets = {t[: last + 1] for t in self._targets(link)}
        if tuple(given[: last + 1]) in targets:
            return {}
        for i in range(last + 1):  # name the first part that leads nowhere
            if tuple(given[: i + 1]) not in {t[: i + 1] for t in targets}:
                kinds = " or ".join(kind_of(k).singular for k in link.to)
                return {
                    names[
                        i
                    ]: f"there is no {kinds} {' '.join(given[: i + 1])} at this site: choose one, or add it first"
                }
        return {}

    def changes(self) -> list[tuple[str, str, str]]:
        """Return what would change: (title of the column, before, after), as typed."""
        old = self._row(self.key) if self.key is not None else None
        table, problems = to_table(self.kind, [self.row()])
        wrong = {p.column for p in problems}
        out = []
        for column in self.columns:
            before = as_typed(old[column.name]) if old else ""
            after = as_typed(table[column.name][0].as_py()) if column.name in table.column_names else ""
            if column.name in wrong:
                after = self.values[column.name]
            if before != after:
                out.append((column.title, before, after))
        return out


def as_typed(value: Any) -> str:
    """Return a stored value as one would type it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.10g}"
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


def to_fill_in(kind: str) -> dict[str, Column]:
    """Return the columns of a kind that have a field, by name, in order."""
    return {c.name: c for c in FormModel.of(kind, {}).columns if not c.generated}


def faults_to_tell(faults: Mapping[str, str], values: Mapping[str, str], touched: Set[str]) -> dict[str, str]:
    """Return the faults of fields that were touched; a form just begun is blank, not wrong."""
    begun = len(touched) >= 2
    return {n: words for n, words in faults.items() if n in touched and (values.get(n) or begun)}


def not_complete(kind: Kind, faults: Mapping[str, str]) -> InputError:
    """Return the error that names what is wrong with a record."""
    named = "; ".join(f"{kind.by_name[n].title}: {t}" for n, t in faults.items())
    return InputError(f"this {kind.singular} is not complete. {named}")
