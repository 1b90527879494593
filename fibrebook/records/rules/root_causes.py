"""Of many breaches of hard rules the few that the others follow from: they first, what follows folded away in them.

One wrong label makes every record wrong that names it. Whoever has to mend it wants to read of the label, not of the
hundred records.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import pyarrow as pa

from fibrebook.errors import SHOWN, Problem
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.words.nearest import nearest

Record = tuple[str, tuple[Any, ...]]  # table and key; the last parts of the key may be left out
MOST_COMPARED = 5000  # labels that a misspelt one is compared with letter by letter
LIKE = 0.75  # share of letters in common from which a label is taken for a misspelling of another


def folded(problems: Sequence[Problem], tables: Mapping[str, pa.Table], sites: Collection[str]) -> list[Problem]:
    """Return the problems that have no other for a cause, each with what follows from it; the widest first.

    Parameters
    ----------
    problems : breaches of hard rules, as `rules.check.new_breaches` gives them
    tables : the tables in which they were found, by kind
    sites : labels of all sites there are

    Returns
    -------
    problems : each given one stands there, or in the `follows` of one that does; where a record is not there, the
        nearest that is stands in `meant` and in the remedy
    """
    cause = _causes(problems)
    following: dict[int, list[Problem]] = {}
    for i, at in enumerate(cause):
        if at != i:
            following.setdefault(at, []).append(problems[i])
    roots = sorted((i for i, at in enumerate(cause) if at == i), key=lambda i: -len(following.get(i, ())))
    names = _Names(tables, sites)
    out = [replace(problems[i], follows=tuple(following.get(i, ()))) for i in roots]
    return [*map(names.suggested, out[:SHOWN]), *out[SHOWN:]]


def _causes(problems: Sequence[Problem]) -> list[int]:
    """For each problem the one that it follows from in the end; itself where there is none."""
    first: dict[Any, int] = {}
    same = [first.setdefault((p.rests_on, p.what) if p.rests_on else i, i) for i, p in enumerate(problems)]
    lacking: dict[Record, int] = {}
    wrong: dict[Record, int] = {}
    alike: dict[Record, int] = {}
    for i in dict.fromkeys(same):
        for record in problems[i].rests_on:
            lacking.setdefault(record, i)
    for i, p in enumerate(problems):
        wrong.setdefault((p.table, p.key), same[i])
        alike.setdefault((p.table, _folded(p.key)), same[i])

    def above(i: int) -> int | None:
        named = problems[i].rests_on
        holders = [h for record in (*named, (problems[i].table, problems[i].key)) for h in _holders(record)]
        for record in holders:
            if lacking.get(record, i) != i:
                return lacking[record]
        for record in (*holders, *named):
            for at in (wrong.get(record), alike.get((record[0], _folded(record[1])))):
                if at is not None and at != i:
                    return at
        return None

    up = {i: above(i) for i in dict.fromkeys(same)}
    return [_top(i, up) for i in same]


def _top(i: int, up: Mapping[int, int | None]) -> int:
    """Climb from cause to cause; where they go round, the earliest of the round is the cause."""
    seen = [i]
    while (above := up[seen[-1]]) is not None:
        if above in seen:
            return min(seen[seen.index(above) :])
        seen.append(above)
    return seen[-1]


def _holders(record: Record) -> list[Record]:
    """The records that hold a record, the widest first: of a port its site and enclosure."""
    table, key = record
    kind = KINDS.get(table)
    if kind is None or kind.scope != "site" or table == "sites" or not key:
        return []
    given = dict(zip(kind.key, key, strict=False))
    out: list[Record] = [("sites", (key[0],))]
    for link in kind.links:
        if all(c in given for c in link.columns) and any(given[c] not in (None, "") for c in link.columns):
            inner = [(to, (key[0], *(given[c] for c in link.columns))) for to in link.to]
            out += [h for r in inner for h in _holders(r) if h not in out]
            out += inner
    return out


def _folded(key: Iterable[Any]) -> tuple[str, ...]:
    return tuple(" ".join(str("" if k is None else k).casefold().split()) for k in key)


class _Names:
    """The labels that there are, to find the nearest to one that is not."""

    def __init__(self, tables: Mapping[str, pa.Table], sites: Collection[str]) -> None:
        self._tables, self._sites = tables, sites
        self._keys: dict[str, list[tuple[Any, ...]]] = {}

    def suggested(self, problem: Problem) -> Problem:
        """Return a problem that names the record which is probably meant, where one is near."""
        if not problem.what.startswith("there is no"):
            return problem
        for table, key in problem.rests_on:
            near = self._nearest(table, key)
            if near is not None:
                label = "/".join(str(k) for k in near[len(near) > 1 :] if k not in (None, ""))
                return replace(problem, meant=(table, near), remedy=f"did you mean {label!r}? Else {problem.remedy}")
        return problem

    def _known(self, table: str) -> list[tuple[Any, ...]]:
        if table not in self._keys:
            found = self._tables.get(table)
            columns = [] if found is None else [found[k].to_pylist() for k in KINDS[table].key]
            keys = list(zip(*columns, strict=True)) if columns else []
            if table == "sites":
                keys += [(s,) for s in self._sites if s and (s,) not in set(keys)]
            self._keys[table] = keys
        return self._keys[table]

    def _nearest(self, table: str, key: tuple[Any, ...]) -> tuple[Any, ...] | None:
        """Return the key that differs by capitals and spaces alone, else by a few letters of one label."""
        known = [k for k in self._known(table) if len(k) >= len(key) and (len(key) == 1 or k[0] == key[0])]
        wanted = _folded(key)
        for other in known:
            if _folded(other[: len(key)]) == wanted and other[: len(key)] != key:
                return other[: len(key)]
        label = "/".join(wanted)
        texts = {"/".join(_folded(k[: len(key)])): k[: len(key)] for k in known[:MOST_COMPARED]}
        near = nearest(label, texts, 1, LIKE, same_figures=True)
        return texts[near[0]] if near else None
