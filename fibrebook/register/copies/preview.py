"""What a copy is, what was done in it, and what bringing it back would change: for people to look at beforehand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fibrebook.errors import Problem
from fibrebook.register.commits import history, pending
from fibrebook.register.commits.proposal import Store
from fibrebook.register.copies.bring_back import Outcome, Work, outcome

if TYPE_CHECKING:
    import pandas as pd

NOT_YET, NOTHING = "not yet", "nothing to bring"


@dataclass(frozen=True)
class CopyPreview:
    """A copy, and what bringing it back would come to. Nothing is written to find it out.

    Attributes
    ----------
    where : place of the copy
    taken_at : the register's commit that it was taken at; stood_utc : when that commit was made, "" = still empty
    taken_utc : when the copy was taken; "" for a whole copy, which does not say
    sites : the sites taken; None = a whole copy with its past. every_site : whether these were all
    left_out : columns that were left out, as sites.contact
    commits : what was done in it since, oldest first: commit, time_utc, by, why, tables, sites, changes, here (the
        commit that it was brought back as, "not yet", or "nothing to bring" for the copy's own upkeep)
    to_bring : how many of them are to be brought
    conflicts : values that both changed, numbered from 0: table, key, column, base, theirs (here), mine (the copy's)
    undecided : numbers of the conflicts without a choice
    changes : what would change here, in the columns of the history; where there is no choice, theirs stands
    problems : rules that would be broken together; looked for once every conflict is decided
    """

    where: str
    taken_at: int
    stood_utc: str
    taken_utc: str
    sites: list[str] | None
    every_site: bool
    left_out: list[str]
    commits: pd.DataFrame
    to_bring: int
    conflicts: pd.DataFrame
    undecided: list[int]
    changes: pd.DataFrame
    problems: list[Problem]


def preview(store: Store, copy: Store, choices: Any = None) -> CopyPreview:
    """Return what bringing back would do; `choices` and errors as for `bring_back`."""
    found = outcome(store, copy, choices)
    work = found.work
    open_ = {(c.table, c.key, c.column) for c in found.left}
    return CopyPreview(
        copy.blobs.where,
        work.start,
        str(store.log.commit(work.start)["time_utc"]) if work.start else "",
        str(copy.log.head().get("created_utc", "")) if work.note else "",
        list(work.note["sites"]) if work.note else None,
        work.note is None or set(store.log.state(work.start).sites) <= set(work.note["sites"]),
        list(work.note["left_out"]) if work.note else [],
        _commits(work),
        len(work.todo),
        pending.conflicts_frame(found.conflicts),
        [i for i, c in enumerate(found.conflicts) if (c.table, c.key, c.column) in open_],
        _changes(found),
        found.problems,
    )


def _commits(work: Work) -> pd.DataFrame:
    log = history.log_frame(work.copy.log, work.newest)
    since = log[log["commit"] > work.first].reset_index(drop=True)
    todo = set(work.todo)
    here = [
        f"commit {work.brought[n]}" if n in work.brought else NOT_YET if n in todo else NOTHING
        for n in since["commit"].tolist()
    ]
    return since.assign(here=here)[["commit", "time_utc", "by", "why", "tables", "sites", "changes", "here"]]


def _changes(found: Outcome) -> pd.DataFrame:
    parts: list[tuple[dict[str, Any], Any]] = [
        ({}, history.changes(found.work.kinds[name], found.now[name], table))
        for name, table in found.whole.items()
        if not table.equals(found.now[name])
    ]
    return history.to_history_frame(parts)
