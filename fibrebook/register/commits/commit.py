"""Making a commit: merge on the newest state, check the hard rules, write files, take the next number.

Creating the commit file is the commit; whatever was written before and never named by one counts for nothing.
"""

from __future__ import annotations

import functools
import random
import time

from fibrebook.errors import ConflictError, NotCommittedError, Problem, RuleError
from fibrebook.plugins import refuse_half_a_list
from fibrebook.records.rules.breach import Judged, Tables
from fibrebook.records.rules.check import new_breaches
from fibrebook.records.rules.root_causes import folded
from fibrebook.register.commits import history
from fibrebook.register.commits.proposal import Merged, Proposal, Store
from fibrebook.register.commits.upgrade import upgrade
from fibrebook.register.commits.writing import merged_content, take_number, written
from fibrebook.register.row_files.columns_stored import fitted, stored_kinds, together
from fibrebook.register.row_files.cores import saying
from fibrebook.register.row_files.merge import Conflict, merge, merge_unsure
from fibrebook.register.row_files.undeclared import dangling
from fibrebook.register.store.state import FORMAT, State

NOT_KNOWN = "are others in the register, and it is not known which are newer: decide them"
TRIES = 60
SECONDS = 60.0
FIRST_WAIT, LONGEST_WAIT = 0.004, 1.0


def lay_over(store: Store, proposal: Proposal, state: State) -> Merged:
    """Merge a proposal with a state; raise ConflictError or RuleError where that cannot be."""
    columns = together(state.columns, proposal.columns)
    kinds = {**proposal.kinds, **stored_kinds(columns)}
    newest = store.tables(state, proposal.sites, kinds)
    conflicts: list[Conflict] = []
    tables = dict(newest)
    for name in proposal.mine:
        before, mine = (fitted(t[name], kinds[name]) for t in (proposal.before, proposal.mine))
        if state.commit == proposal.based_on:
            tables[name] = mine
        else:
            tables[name], found = merge(before, mine, newest[name], kinds[name], proposal.choices)
            conflicts += found
        if proposal.unsure:
            tables[name], found = merge_unsure(tables[name], newest[name], kinds[name], proposal.choices)
            conflicts += found
    if conflicts:
        since = f"were changed by others since commit {proposal.based_on}" if not proposal.unsure else NOT_KNOWN
        raise ConflictError(
            f"{len(conflicts)} value(s) {since}; nothing was committed",
            [Problem("", str(c), "", c.table, c.key, c.column) for c in conflicts],
            conflicts,
        )
    judged = Judged(tables)
    problems = new_breaches(newest, judged, set(proposal.mine))
    refuse_half_a_list()
    if problems:
        _refuse(store, proposal, state, tables, problems)
    left = dangling(store.reader, state, newest, {n: tables[n] for n in proposal.mine})
    if left:
        raise RuleError(f"{len(left)} record(s) cannot be taken away or relabelled here; nothing was committed", left)
    if "cores" in proposal.mine:
        tables["cores"] = saying(tables["cores"])
    changed = {}
    for name in proposal.mine:
        found_changes = history.changes(kinds[name], newest[name], tables[name])
        if found_changes.num_rows:
            changed[name] = found_changes
    return Merged(state, tables, changed, kinds, columns, judged)


def _refuse(store: Store, proposal: Proposal, state: State, tables: Tables, problems: list[Problem]) -> None:
    """Raise RuleError where the proposal is wrong by itself, ConflictError where only others' changes make it so."""
    own, found_in = problems, tables
    if state.commit != proposal.based_on:
        base = store.tables(store.log.state(proposal.based_on), proposal.sites)
        found_in = {**base, **proposal.mine}
        own = new_breaches(base, found_in, set(proposal.mine))
    if own:
        roots = folded(own, found_in, state.sites)
        raise RuleError(f"{len(roots)} thing(s) cannot stand in the register; nothing was committed", roots)
    raise ConflictError(
        f"together with what others changed since commit {proposal.based_on}, this cannot stand; nothing was committed",
        problems,
        [],
    )


def commit(store: Store, proposal: Proposal) -> int | None:
    """Commit a proposal on top of the newest state; return its number, or None where it changes nothing.

    Raises
    ------
    ConflictError, RuleError : nothing was committed
    NotCommittedError : others were quicker each time, or the place refused; safe to try again
    UnknownOutcomeError : the connection broke and it is not known whether the commit landed
    """
    started, wait = time.monotonic(), FIRST_WAIT
    for _ in range(TRIES):
        state = store.log.state(store.log.newest())
        if state.format < FORMAT:
            upgrade(store, proposal.by)
            continue
        merged = lay_over(store, proposal, state)
        if not merged.changed and not proposal.more:
            return None
        number = state.commit + 1
        data = written(functools.partial(merged_content, store, proposal, merged, number))
        if take_number(store, number, data, proposal.token):
            return number
        if time.monotonic() - started > SECONDS:
            break
        time.sleep(random.uniform(0, wait))
        wait = min(wait * 2, LONGEST_WAIT)
    raise NotCommittedError("others committed first at every try; nothing of this landed: try again in a while")
