"""Making a commit: merge on the newest state, check the hard rules, write files, take the next number.

Creating the commit file is the commit; whatever was written before and never named by one counts for nothing.
"""

from __future__ import annotations

import random
import time
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import pyarrow as pa

from fibrebook.errors import ConflictError, NotCommittedError, Problem, RuleError, UnknownOutcomeError
from fibrebook.records import rules
from fibrebook.records.kinds import KINDS
from fibrebook.register import history
from fibrebook.register.blobs import AlreadyThere, Blobs, OutcomeUnknown
from fibrebook.register.cores import saying
from fibrebook.register.log import (
    CHECKPOINT_EVERY,
    FIRM_SEGMENT,
    FORMAT,
    FileRef,
    Json,
    Log,
    State,
    commit_path,
    digest,
    signed,
    utc_text,
)
from fibrebook.register.merge import Choices, Conflict, merge
from fibrebook.register.segments import (
    FIRM,
    Places,
    Reader,
    plain,
    put_once,
    rows_by_site,
    split_by,
    to_parquet,
    without_sites,
    write_segment,
)

TRIES = 60
SECONDS = 60.0
FIRST_WAIT, LONGEST_WAIT = 0.004, 1.0
SITE_KINDS = tuple(k for k in KINDS.values() if k.scope == "site")
Tables = dict[str, pa.Table]


@dataclass
class Store:
    """One register's files, log and reader."""

    blobs: Blobs
    log: Log
    reader: Reader

    def tables(self, state: State, sites: Sequence[str]) -> Tables:
        """Return all tables of some sites as they are stored."""
        return {k.name: self.reader.rows(state, k, sites) for k in KINDS.values()}


@dataclass(frozen=True)
class Proposal:
    """What somebody wants changed: whole tables of the touched sites, before and after their change."""

    based_on: int
    sites: tuple[str, ...]  # touched sites; FIRM for the kinds that belong to no site
    before: Tables
    mine: Tables
    by: str
    why: str
    what: str = "edit"
    choices: Choices = field(default_factory=dict)
    token: str = field(default_factory=lambda: uuid.uuid4().hex)


@dataclass
class Merged:
    """A proposal laid over the newest state: all tables of the touched sites, and what differs."""

    state: State
    tables: Tables
    changed: Tables  # kind -> long-form changes, only kinds with any


def lay_over(store: Store, proposal: Proposal, state: State) -> Merged:
    """Merge a proposal with a state; raise ConflictError or RuleError where that cannot be."""
    newest = store.tables(state, proposal.sites)
    conflicts: list[Conflict] = []
    tables = dict(newest)
    for name, mine in proposal.mine.items():
        if state.commit == proposal.based_on:
            tables[name] = mine
        else:
            tables[name], found = merge(
                proposal.before[name], mine, newest[name], KINDS[name], proposal.choices
            )
            conflicts += found
    if conflicts:
        raise ConflictError(
            f"{len(conflicts)} value(s) were changed by others since commit {proposal.based_on}; nothing was committed",
            [Problem("", str(c), "", c.table, c.key, c.column) for c in conflicts],
            conflicts,
        )
    problems = rules.check({k.name: tables[k.name] for k in SITE_KINDS})
    if problems:
        _refuse(store, proposal, state, problems)
    if "cores" in proposal.mine:
        tables["cores"] = saying(tables["cores"])
    changed = {}
    for name in proposal.mine:
        found_changes = history.changes(KINDS[name], newest[name], tables[name])
        if found_changes.num_rows:
            changed[name] = found_changes
    return Merged(state, tables, changed)


def _refuse(store: Store, proposal: Proposal, state: State, problems: list[Problem]) -> None:
    """Raise RuleError where the proposal is wrong by itself, ConflictError where only others' changes make it so."""
    own = problems
    if state.commit != proposal.based_on:
        base = store.tables(store.log.state(proposal.based_on), proposal.sites)
        alone = {**base, **proposal.mine}
        own = rules.check({k.name: alone[k.name] for k in SITE_KINDS})
    if own:
        raise RuleError(f"{len(own)} thing(s) cannot stand in the register; nothing was committed", own)
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
        merged = lay_over(store, proposal, state)
        if not merged.changed:
            return None
        number = state.commit + 1
        try:
            content = _content(store, proposal, merged, number)
        except (OSError, OutcomeUnknown) as error:
            raise NotCommittedError(
                f"a file could not be written, so nothing was committed: {error}"
            ) from error
        if _create(store, number, content, proposal.token):
            return number
        if time.monotonic() - started > SECONDS:
            break
        time.sleep(random.uniform(0, wait))
        wait = min(wait * 2, LONGEST_WAIT)
    raise NotCommittedError(
        "others committed first at every try; nothing of this landed: try again in a while"
    )


def _content(store: Store, proposal: Proposal, merged: Merged, number: int) -> bytes:
    """Write segments and changes, and return the bytes of the commit file that names them."""
    segments, sites = _write_segments(store, proposal, merged)
    long = pa.concat_tables(merged.changed.values())
    data = to_parquet(long, row_group_size=len(long))
    whole = digest(data)
    path = f"changes/{number:08d}-{whole[:32]}.parquet"
    put_once(store.blobs, path, data)
    body: Json = {
        "format": FORMAT,
        "commit": number,
        "time_utc": utc_text(),
        "by": proposal.by,
        "why": proposal.why,
        "what": proposal.what,
        "based_on": proposal.based_on,
        "previous_digest": store.log.previous_digest(number),
        "token": proposal.token,
        "segments": segments,
        "sites": sites,
        "changes": {
            "file": path,
            "sha256": whole,
            "rows": len(long),
            "tables": sorted(merged.changed),
            "sites": sorted(set(long["site"].unique().to_pylist())),
        },
    }
    if number % CHECKPOINT_EVERY == 0:
        body["checkpoint"] = merged.state.after(body).as_checkpoint()
    return signed(body)


def _write_segments(store: Store, proposal: Proposal, merged: Merged) -> tuple[Json, Json]:
    """Write the segments that differ; return the commit's deltas of segments and sites."""
    state = merged.state
    counts = rows_by_site(merged.tables[k.name] for k in SITE_KINDS)
    places = Places(state)
    home = {site: places.place(site, rows) for site, rows in counts.items()}
    gone = [s for s in proposal.sites if s in state.sites and s not in counts]
    of_segment: dict[str, list[str]] = {}
    for site in [*counts, *gone]:
        of_segment.setdefault(places.sites[site], []).append(site)
    segments: dict[str, dict[str, Json | None]] = {}
    for name, long in merged.changed.items():
        kind = KINDS[name]
        touched = set(long["site"].unique().to_pylist())
        if kind.scope == "firm":
            ref = write_segment(store.blobs, kind, FIRM_SEGMENT, plain(merged.tables[name], kind))
            segments[name] = {FIRM_SEGMENT: _json(ref)}
            continue
        own = split_by(merged.tables[name], places.sites)
        for segment, sites in of_segment.items():
            if touched.isdisjoint(sites):
                continue
            others = without_sites(store.reader.segment(state, kind, segment), sites)
            rows = pa.concat_tables([plain(t, kind) for t in (others, own.get(segment)) if t is not None])
            segments.setdefault(name, {})[segment] = _json(write_segment(store.blobs, kind, segment, rows))
    new: Json = {s: seg for s, seg in home.items() if state.sites.get(s) != seg}
    return dict(segments), {**new, **dict.fromkeys(gone)}


def _json(ref: FileRef | None) -> Json | None:
    return ref.as_json() if ref else None


def _create(store: Store, number: int, content: bytes, token: str) -> bool:
    """Take the number; False where another writer has it. A broken connection is tried again with the same bytes."""
    for again in range(4):
        try:
            store.log.append(number, content)
            return True
        except AlreadyThere:
            return store.log.commit(number).get("token") == token
        except OutcomeUnknown as error:
            cause: Exception = error
            _pause(again)
        except OSError as error:  # a local disk answers for certain: look
            if store.blobs.exists(commit_path(number)):
                return store.log.commit(number).get("token") == token
            raise NotCommittedError(f"the commit could not be written: {error}") from error
    raise UnknownOutcomeError(
        f"the connection broke while commit {number} was sent and it is not known whether it landed: "
        f"look at the history before trying again ({cause})"
    ) from cause


_pause: Callable[[int], None] = lambda again: time.sleep(0.05 * 4**again)  # noqa: E731
__all__ = ["FIRM", "Merged", "Proposal", "Store", "commit", "lay_over"]
