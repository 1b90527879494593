"""Bringing back what was changed in a copy: commit by commit, under their authors and times, by the one merge."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import ConflictError, InputError, Problem
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.records.rules.check import new_breaches
from fibrebook.register.commits import pending
from fibrebook.register.commits.commit import commit
from fibrebook.register.commits.decisions import OtherwiseTheirs
from fibrebook.register.commits.edit import required_text
from fibrebook.register.commits.proposal import Proposal, Store, Tables
from fibrebook.register.commits.writing import written
from fibrebook.register.copies.forks import origin
from fibrebook.register.copies.take_away import copy_note, copy_photos, same_place
from fibrebook.register.row_files.columns_stored import Columns, stored_kinds, together
from fibrebook.register.row_files.cores import saying
from fibrebook.register.row_files.merge import Choices, Conflict, merge
from fibrebook.register.row_files.site_rows import FIRM, plain
from fibrebook.register.row_files.undeclared import dangling, refuse
from fibrebook.register.store.state import Json, digest
from fibrebook.words.matching import shared_ids

TOGETHER = "together with what was changed here, the copy's changes cannot stand"
PUT_RIGHT = "Put it right here or in the copy, then bring it back again"


@dataclass
class Work:
    """What is to be brought: the copy's commits, from which state on, and the sites they touch."""

    store: Store
    copy: Store
    note: Json | None
    first: int  # the copy's last commit that came with it: what was done in it follows
    start: int  # the register's commit that the copy was taken at
    brought: dict[int, int]  # commits of the copy that are in the register already, and as which one
    done: int  # the last of them, else `first`
    todo: list[int]  # the copy's commits to bring
    sites: tuple[str, ...]
    columns: Columns  # that plugins have added to either
    kinds: Mapping[str, Kind] = field(init=False)

    def __post_init__(self) -> None:
        self.kinds = stored_kinds(self.columns)

    @property
    def newest(self) -> int:
        """The copy's newest commit."""
        return self.copy.log.newest()

    def here(self, number: int) -> Tables:
        """Return the register's tables of the touched sites at a commit."""
        return self._tables(self.store, number)

    def there(self, number: int) -> Tables:
        """Return the copy's tables at one of its commits; columns that it was not given hold the register's values."""
        tables = self._tables(self.copy, number)
        if self.note and self.note["left_out"]:
            known = self.here(self.start)
            for name in tables:
                columns = [c.partition(".")[2] for c in self.note["left_out"] if c.startswith(f"{name}.")]
                columns = [c for c in columns if c in self.kinds[name].by_name]
                tables[name] = _filled(self.kinds[name].key, tables[name], known[name], columns)
        return tables

    def _tables(self, store: Store, number: int) -> Tables:
        found = store.tables(store.log.state(number), self.sites, self.kinds)
        return {n: plain(t, self.kinds[n]) for n, t in found.items()}


@dataclass(frozen=True)
class Outcome:
    """What bringing back comes to, worked out and not written."""

    work: Work
    newest: int  # the register's commit that it is merged with
    now: Tables  # the touched sites as they are here
    whole: Tables  # as they will be; where it is not decided, as they are here
    decided: Choices
    conflicts: list[Conflict]  # all values that both changed
    left: list[Conflict]  # those that are not decided
    problems: list[Problem]  # rules that the whole would break, once everything is decided


def _filled(key: tuple[str, ...], table: pa.Table, known: pa.Table, columns: list[str]) -> pa.Table:
    if not columns or not table.num_rows:
        return table
    own, theirs = shared_ids([[t[k] for k in key] for t in (table, known)])
    place = np.full(int(max(own.max(initial=0), theirs.max(initial=0))) + 1, -1, np.int64)
    place[theirs] = np.arange(len(theirs))
    at = pa.array(place[own], mask=place[own] < 0)
    for name in columns:
        position = table.schema.get_field_index(name)
        value = pc.coalesce(table[name], known[name].take(at))
        table = table.set_column(position, table.schema.field(position), value)
    return table


def bring_back(store: Store, copy: Store, by: str, why: str, choices: Any = None) -> int | None:
    """Merge what was changed in a copy since it was taken; return the last commit made (None: nothing was changed).

    Each commit of the copy becomes one of the register, with its author, reason and time; where only several together
    can stand, they become one.

    Parameters
    ----------
    choices : "mine" (the copy's) or "theirs" (the register's) for all conflicts, a list in their order, or a mapping
        by their number or by (table, key, column), as `read_decisions` returns it

    Raises
    ------
    InputError : it is a copy of another register
    ConflictError : both changed the same; `conflicts` lists it side by side; nothing was brought, the copy keeps all
    """
    by, why = required_text(by, "by", "your initials"), required_text(why, "why", "a few words on what for")
    found = outcome(store, copy, choices)
    if not found.work.todo:
        return None
    if found.left:
        raise ConflictError(
            f"{len(found.left)} value(s) were changed both in the copy and here; nothing was brought back. Decide on "
            "each: mine is the copy's, theirs is what is here",
            [Problem("", str(c), "", c.table, c.key, c.column) for c in found.left],
            pending.conflicts_frame(found.left),
        )
    if found.problems:
        raise ConflictError(
            f"{TOGETHER}; nothing was brought back. {PUT_RIGHT}", found.problems, pending.conflicts_frame([])
        )
    relied_on = store.reader.rows(store.log.state(store.log.newest()), KINDS["photos"])["file"].to_pylist()
    written(lambda: copy_photos(copy.blobs, store.blobs, certain=relied_on))
    return _replay(found, by, why)


def outcome(store: Store, copy: Store, choices: Any = None) -> Outcome:
    """Work out what bringing back comes to; nothing is written.

    Parameters
    ----------
    choices : as for `bring_back`; a conflict without one is left open

    Raises
    ------
    InputError : it is a copy of another register, or has made a site of a label that another site has here
    """
    work = _work(store, copy)
    newest = store.log.newest()
    now = work.here(newest)
    if not work.todo:
        return Outcome(work, newest, now, now, {}, [], [], [])
    for number in work.todo:
        told = f"commit {number} of the copy cannot be brought back"
        refuse(copy.log.commit(number)["changes"]["tables"], told)
    base, mine = work.there(work.done), work.there(work.todo[-1])
    _refuse_strangers(work, newest)
    _, conflicts = merge_all(work.kinds, base, mine, now, {})
    decided = pending.decided(conflicts, choices)
    whole, left = merge_all(work.kinds, base, mine, now, decided)
    return Outcome(work, newest, now, whole, decided, conflicts, left, [] if left else _broken(work, now, whole))


def _replay(found: Outcome, by: str, why: str) -> int | None:
    """Make the copy's commits here; the last of them leaves exactly the merged whole."""
    work, whole, decided, newest = found.work, found.whole, found.decided, found.newest
    running, last, made = found.now, newest, None
    group: list[int] = []
    earlier = work.done
    for number in work.todo:
        group.append(number)
        if number == work.todo[-1]:
            result = whole
        else:
            base, mine = work.there(earlier), work.there(number)
            result, _ = merge_all(work.kinds, base, mine, running, OtherwiseTheirs(decided))
            if _broken(work, running, result):
                continue  # stands only together with the next one
        content = work.copy.log.commit(number)
        more = origin([(n, work.copy.log.raw(n)) for n in group], content, by, why)
        names = [n for n in result if not result[n].equals(running[n])] or ["sites"]
        proposal = Proposal(
            last, work.sites, {n: running[n] for n in names}, {n: result[n] for n in names},
            content["by"], content["why"], content["what"], {}, more, columns=work.columns,
        )  # fmt: skip
        try:
            made = commit(work.store, proposal)
        except ConflictError as error:
            raise ConflictError(
                f"others saved at the same time; the copy's commits before {group[0]} are brought back, bring back "
                f"again for the rest: {error.message}",
                error.problems,
                pending.conflicts_frame(error.conflicts or []),
            ) from error
        # after somebody else's commit in between, the merge must not be skipped: the base stays the old one
        last = made if made is not None and made == last + 1 else newest
        running, earlier, group = result, number, []
    return made


def _work(store: Store, copy: Store) -> Work:
    if store.log.head()["id"] != copy.log.head()["id"]:
        raise InputError(f"{copy.blobs.where} is no copy of {store.blobs.where}: it was made as a register of its own")
    if same_place(store.blobs, copy.blobs):
        raise InputError(f"{copy.blobs.where} is this register itself; name the place of a copy of it")
    note = copy_note(copy.log.head())
    if note is None:
        first = start = _last_common(store, copy)
    else:
        first, start = 1, note["commit"]
        if start > store.log.newest() or (start and digest(store.log.raw(start)) != note["digest"]):
            raise InputError(f"{copy.blobs.where} was taken from a commit that {store.blobs.where} does not have")
    known: dict[str, int] = {}
    for number in range(start + 1, store.log.newest() + 1):
        for c in (store.log.commit(number).get("origin") or {}).get("commits", []):
            known[c["digest"]] = number
    newest = copy.log.newest()
    own = {n: digest(copy.log.raw(n)) for n in range(first + 1, newest + 1)}
    brought = {n: known[d] for n, d in own.items() if d in known}
    done = max(brought, default=first)
    todo = [n for n in range(done + 1, newest + 1) if copy.log.commit(n)["changes"]["tables"]]
    todo = [n for n in todo if not copy.log.commit(n).get("replaced")]
    sites = {s for n in todo for s in copy.log.commit(n)["changes"]["sites"]}
    done = min(done, newest)
    lasting = {FIRM, *copy.log.state(done).sites, *copy.log.state(newest).sites}  # not what was made and relabelled
    columns = together(*(s.log.state(s.log.newest()).columns for s in (store, copy)))
    return Work(store, copy, note, first, start, brought, done, todo, tuple(sorted(sites & lasting)), columns)


def _last_common(store: Store, copy: Store) -> int:
    """Return the last commit that both have alike (each names the digest of the one before, so all before are too)."""
    number = min(store.log.newest(), copy.log.newest())
    while number and store.log.raw(number) != copy.log.raw(number):
        number -= 1
    return number


def _refuse_strangers(work: Work, newest: int) -> None:
    """A site that the copy made itself, under a label that another site has here."""
    if work.note is None:
        return
    here = work.store.log.state(newest).sites
    twice = [s for s in work.sites if s in here and s not in work.note["sites"] and not _brought(work, s)]
    if twice:
        raise InputError(
            f"the copy has made a site {twice[0]!r}, and there is another one of that label here; relabel it in the "
            "copy (rename), then bring it back"
        )


def _brought(work: Work, site: str) -> bool:
    return any(site in work.copy.log.commit(n)["changes"]["sites"] for n in range(2, work.done + 1))


def merge_all(
    kinds: Mapping[str, Kind], base: Tables, mine: Tables, theirs: Tables, choices: Choices
) -> tuple[Tables, list[Conflict]]:
    """Merge all tables of the touched sites."""
    out: Tables = {}
    conflicts: list[Conflict] = []
    for name in theirs:
        out[name], found = merge(base[name], mine[name], theirs[name], kinds[name], choices)
        conflicts += found
    out["cores"] = saying(out["cores"])
    return out, conflicts


def _broken(work: Work, before: Tables, after: Tables) -> list[Problem]:
    state = work.store.log.state(work.store.log.newest())
    broken = new_breaches(before, after, set(after))
    return broken or dangling(work.store.reader, state, before, after)
