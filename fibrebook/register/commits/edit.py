"""An edit: everything that is put, removed or relabelled between two moments, committed as one."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Mapping
from types import TracebackType
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from fibrebook.errors import ConflictError, InputError, Problem, ReadOnlyError
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.records.rules.breach import Judged
from fibrebook.records.values.to_columns import to_table
from fibrebook.register.commits import history, pending
from fibrebook.register.commits.commit import commit, lay_over
from fibrebook.register.commits.proposal import Proposal, Store
from fibrebook.register.commits.relabel import relabel
from fibrebook.register.commits.working_copy import WorkingCopy, refuse_repeated
from fibrebook.register.row_files.columns_stored import stored_kinds
from fibrebook.register.row_files.cores import codes_in, saying, unsaid, usual_code_in, with_usual_code
from fibrebook.register.row_files.merge import Choices
from fibrebook.register.row_files.site_rows import FIRM
from fibrebook.words.printable import acts, code_point

if TYPE_CHECKING:
    import pandas as pd


class Edit:
    """One commit in the making; use it in a `with` statement.

    Attributes
    ----------
    commit : number of the commit once the block was left; None where nothing changed

    One begun as a trial is only looked at and checked; finishing it is refused.
    """

    def __init__(self, store: Store, by: str, why: str, base: int, what: str = "edit", trial: bool = False) -> None:
        self.by, self.why = (
            required_text(by, "by", "your initials"),
            required_text(why, "why", "a few words on what for"),
        )
        self.base, self.what = base, required_text(what, "what", "'edit'")
        self.commit: int | None = None
        self._store = store
        self._state = store.log.state(base)
        self._kinds = stored_kinds(self._state.columns)
        self._draft = WorkingCopy(lambda kind, sites: store.reader.rows(self._state, kind, sites), self._kinds)
        self._closed = False
        self._trial = trial
        self.unsure = False  # whether what differs may be older than what is there; see Proposal.unsure

    def put(self, kind: str, rows: Any) -> None:
        """Add rows or change them by key; a column that is not given keeps its value, a blank given clears it.

        Parameters
        ----------
        kind : table name
        rows : DataFrame, pyarrow Table, or dicts (each may give other columns)

        Raises
        ------
        InputError : unknown columns, values that do not fit, a new row that lacks what it must have
        RuleError : the same key given twice
        """
        self._open()
        declared = self._store.kind(kind)
        groups, problems = _groups(declared, rows)
        if problems:
            raise InputError(f"{len(problems)} value(s) do not fit the table {kind!r}", problems)
        if len(groups) > 1:
            _not_twice(declared, groups)
        for table, numbers in groups:
            if table.num_rows:
                self._draft.upsert(declared, table, _row_name(kind, numbers))

    def remove(self, kind: str, keys: Any) -> None:
        """Remove rows by key; what is not there is a NotFoundError.

        Parameters
        ----------
        keys : one key (tuple or label), a list of them, dicts, a DataFrame or Table with the key columns;
            a blank last part (the position of a simplex port) may be left out of a tuple
        """
        self._open()
        declared = self._store.kind(kind)
        table, problems = to_table(declared, key_rows(declared, keys))
        if problems:
            raise InputError(f"{len(problems)} key(s) do not fit the table {kind!r}", problems)
        if table.num_rows:
            self._draft.remove(declared, table, _row_name(kind, None))

    def rename(self, kind: str, site: str, old: Any, new: Any) -> None:
        """Write a new label on a record and in every row that refers to it.

        Parameters
        ----------
        kind : table name; "sites" relabels the site itself
        old, new : label, or a tuple of labels where the key has several besides the site; a tuple that leaves the
            last part out means all of them: ("P1", "3") is both positions of port 3 of panel P1
        """
        self._open()
        relabel(self._draft, self._store.kind(kind), site, old, new)

    def preview(self) -> pd.DataFrame:
        """Return the changes made so far, in the columns of the register's history."""
        self._finish()
        parts = [
            ({"by": self.by, "why": self.why}, history.changes(self._kinds[n], self._draft.before[n], table))
            for n, table in self._said_only().items()
        ]
        return history.to_history_frame(parts)

    def proposal(self, choices: Choices | None = None) -> Proposal:
        """Return what is to be committed."""
        self._finish()
        self._draft.level()
        draft = self._draft
        return Proposal(
            self.base,
            draft.sites,
            dict(draft.before),
            dict(draft.mine),
            self.by,
            self.why,
            self.what,
            choices or {},
            unsure=self.unsure,
            columns=self._state.columns,
        )

    def _finish(self) -> None:
        self._finish_cables()
        self._finish_cores()

    def _finish_cables(self) -> None:
        """Write the firm's usual colour code on new cables that say none; a later choice then recolours none."""
        draft = self._draft
        if "cables" in draft.mine:
            stored = self._store.reader.rows(self._state, KINDS["choices"])
            usual = usual_code_in(draft.mine.get("choices", stored))
            draft.mine["cables"] = with_usual_code(draft.mine["cables"], draft.before["cables"], usual)

    def _finish_cores(self) -> None:
        """Blank the core values that the cable gives, by its present and by its former code."""
        draft = self._draft
        if "cores" not in draft.mine:
            return
        sites = [s for s in draft.sites if s != FIRM]
        cables = draft.rows(KINDS["cables"], sites)
        cores = draft.rows(KINDS["cores"], sites)
        codes = codes_in(self._store.reader.rows(self._state, KINDS["colour_codes"]))
        cores = unsaid(cores, draft.before["cables"], codes)
        if "colour_codes" in draft.mine:
            codes = codes_in(draft.mine["colour_codes"])
        draft.mine["cores"] = unsaid(cores, cables, codes)

    def _said_only(self) -> dict[str, pa.Table]:
        return {n: saying(t) if n == "cores" else t for n, t in self._draft.mine.items()}

    def _open(self) -> None:
        if self._closed:
            raise InputError("this edit is over; begin another with reg.edit(by=..., why=...)")

    def check(self) -> Judged:
        """Raise the ConflictError or RuleError that committing now would raise; commit nothing.

        Return the tables that it would change, as it would leave them, of all sites that it touches.
        """
        if not self._draft.mine:
            return Judged({})
        log, proposal = self._store.log, self.proposal()
        found = lay_over(self._store, proposal, log.state(log.newest()))
        assert found.judged is not None
        return found.judged.only(proposal.mine)

    def finish(self, choices: Choices | None = None, kept_as: str | None = None) -> int | None:
        """Commit; on a conflict keep the edit as a pending one and raise ConflictError with its name.

        Parameters
        ----------
        kept_as : name of the pending file that this edit was read from; it is not kept a second time
        """
        self._open()
        if self._trial:
            raise ReadOnlyError("this edit is a trial and is not committed; begin one with reg.edit(by=..., why=...)")
        self._closed = True
        if not self._draft.mine:
            return None
        proposal = self.proposal(choices)
        try:
            self.commit = commit(self._store, proposal)
        except ConflictError as error:
            raise pending.kept(self._store.blobs, proposal, error, kept_as) from error
        return self.commit

    def __enter__(self) -> Edit:
        self._open()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is None:
            self.finish()
        self._closed = True


def required_text(text: Any, name: str, example: str) -> str:
    """Return a text that must not be blank, nor hold what cannot be seen."""
    if not isinstance(text, str) or not text.strip():
        raise InputError(f"{name!r} is blank: every commit says who and why; give {example}")
    told = " ".join(text.split())
    wrong = next((c for c in told if acts(c)), None)
    if wrong:
        raise InputError(f"{name!r} holds {code_point(wrong)}, which cannot be seen; type it again as plain text")
    return told


Group = tuple[pa.Table, list[int] | None]


def _groups(kind: Kind, rows: Any) -> tuple[list[Group], list[Problem]]:
    """Convert rows; dicts that give different columns become one table for each set of columns."""
    if isinstance(rows, Mapping) and not any(isinstance(v, list | tuple) or hasattr(v, "dtype") for v in rows.values()):
        rows = [rows]  # one row given as a dict
    if isinstance(rows, pa.Table | Mapping) or hasattr(rows, "iloc"):
        table, problems = to_table(kind, rows)
        return [(table, None)], problems
    if isinstance(rows, str | bytes) or not isinstance(rows, Iterable):
        raise InputError(f"rows must be a DataFrame or a list of dicts, not {type(rows).__name__}")
    by_columns: dict[frozenset[Any], tuple[list[Any], list[int]]] = {}
    for i, row in enumerate(rows):
        if not isinstance(row, Mapping):
            raise InputError(f"{kind.name} row {i + 1} is no dict but {type(row).__name__}: give column names with it")
        group = by_columns.setdefault(frozenset(row), ([], []))
        group[0].append(row)
        group[1].append(i)
    found: list[Group] = []
    problems = []
    for dicts, numbers in by_columns.values():
        table, wrong = to_table(kind, dicts, _row_name(kind.name, numbers))
        problems += [dataclasses.replace(p, row=numbers[p.row]) if p.row is not None else p for p in wrong]
        found.append((table, numbers))
    return found, problems


def _row_name(kind: str, numbers: list[int] | None) -> Callable[[int], str]:
    return lambda i: f"{kind} row {(numbers[i] if numbers else i) + 1}"


def _not_twice(kind: Kind, groups: list[Group]) -> None:
    """Refuse a key that stands in two groups; within one the draft sees to it."""
    keys = pa.concat_tables([t.select(list(kind.key)) for t, _ in groups])
    numbers = [n for t, named in groups for n in (named or range(t.num_rows))]
    refuse_repeated(kind, keys, _row_name(kind.name, numbers))


def key_rows(kind: Kind, keys: Any) -> Any:
    """Return keys in any of their dresses as rows of key columns."""
    names = list(kind.key)
    if isinstance(keys, pa.Table):
        return keys.select([n for n in names if n in keys.column_names])
    if hasattr(keys, "iloc"):
        return keys[[n for n in names if n in keys.columns]]
    if isinstance(keys, str | int | tuple | Mapping):
        keys = [keys]
    return [_key_row(kind, k) for k in keys]


def _key_row(kind: Kind, key: Any) -> dict[str, Any]:
    if isinstance(key, Mapping):
        return {n: key.get(n) for n in kind.key}
    parts = list(key) if isinstance(key, tuple | list) else [key]
    optional = sum(1 for n in kind.key if not kind.by_name[n].required)
    if not len(kind.key) - optional <= len(parts) <= len(kind.key):
        raise InputError(f"a key of {kind.name} is ({', '.join(kind.key)}), not {key!r}")
    return dict(zip(kind.key, [*parts, *[None] * (len(kind.key) - len(parts))], strict=True))
