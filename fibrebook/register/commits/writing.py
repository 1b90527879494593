"""Writing a commit: segments and changes first, then the file that names them, which is the commit."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Protocol, TypeVar

import pyarrow as pa

from fibrebook.errors import DamagedError, FibrebookError, NotCommittedError, UnknownOutcomeError
from fibrebook.plugins import refuse_half_a_list
from fibrebook.records.kinds.built_in import site_kinds
from fibrebook.register.commits.history import CHANGES
from fibrebook.register.commits.proposal import Merged, Proposal, Store
from fibrebook.register.places.asked import AlreadyThere, Missing, NotConfirmed, OutcomeUnknown
from fibrebook.register.row_files.columns_stored import Columns, declared_here, together
from fibrebook.register.row_files.site_rows import plain, rows_by_site, split_by, without_sites
from fibrebook.register.row_files.written import SegmentPlaces, put_once, to_parquet, write_segment
from fibrebook.register.store import witness
from fibrebook.register.store.commit_times import times_of_next
from fibrebook.register.store.shape import commit_faults
from fibrebook.register.store.signature import with_signature
from fibrebook.register.store.state import (
    CHECKPOINT_EVERY,
    FIRM_SEGMENT,
    FORMAT,
    FileRef,
    Json,
    State,
    commit_path,
    digest,
    utc_text,
    with_digest,
)

Written = TypeVar("Written")


class Committer(Protocol):
    """Who commits what for."""

    @property
    def by(self) -> str: ...  # noqa: D102
    @property
    def why(self) -> str: ...  # noqa: D102
    @property
    def what(self) -> str: ...  # noqa: D102
    @property
    def based_on(self) -> int: ...  # noqa: D102
    @property
    def token(self) -> str: ...  # noqa: D102
    @property
    def more(self) -> Json: ...  # noqa: D102


def merged_content(store: Store, proposal: Proposal, merged: Merged, number: int) -> bytes:
    """Write segments and changes, and return the bytes of the commit file that names them."""
    segments, sites = _write_segments(store, proposal, merged)
    long = pa.concat_tables([CHANGES.empty_table(), *merged.changed.values()])
    return content(store, proposal, merged.state, number, long, segments, sites, columns=merged.columns)


def content(
    store: Store,
    proposal: Committer,
    state: State,
    number: int,
    long: pa.Table,
    segments: Json,
    sites: Json,
    more: Json | None = None,
    columns: Columns | None = None,
) -> bytes:
    """Write the changes, and return the bytes of the commit file that follows `state`.

    columns : those that plugins have added to what it is made of, besides the state's

    Raises
    ------
    PluginError : it is not known what a plugin would have to say to the commit
    """
    refuse_half_a_list()
    data = to_parquet(long, row_group_size=max(len(long), 1))
    whole = digest(data)
    path = f"changes/{number:08d}-{whole[:32]}.parquet"
    put_once(store.blobs, path, data)
    body: Json = {
        "format": FORMAT,
        "commit": number,
        **times_of_next(store.log, number, utc_text()),
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
            "tables": sorted(set(long["table"].unique().to_pylist())),
            "sites": sorted(set(long["site"].unique().to_pylist())),
        },
        **proposal.more,
        **(more or {}),
    }
    added = together(state.columns, columns or {}, declared_here(segments))
    if added:
        body["columns"] = added
    if number % CHECKPOINT_EVERY == 0:
        body["checkpoint"] = state.after(body).as_checkpoint()
    if wrong := commit_faults(body, number):  # a register that others have made may lead here; never write on in it
        raise DamagedError(
            f"the commit would not be one that can be read ({', '.join(wrong)}), so nothing was committed: run verify"
        )
    return with_digest(with_signature(body, store.log.numbered_anew()))


def _write_segments(store: Store, proposal: Proposal, merged: Merged) -> tuple[Json, Json]:
    """Write the segments that differ; return the commit's deltas of segments and sites."""
    state = merged.state
    counts = rows_by_site(merged.tables[k.name] for k in site_kinds())
    places = SegmentPlaces(state)
    home = {site: places.place(site, rows) for site, rows in counts.items()}
    gone = [s for s in proposal.sites if s in state.sites and s not in counts]
    of_segment: dict[str, list[str]] = {}
    for site in [*counts, *gone]:
        of_segment.setdefault(places.sites[site], []).append(site)
    segments: dict[str, dict[str, Json | None]] = {}
    for name, long in merged.changed.items():
        kind = merged.kinds[name]
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


def written(write: Callable[[], Written]) -> Written:
    """Write files that no commit names yet; NotCommittedError where the place refuses."""
    try:
        return write()
    except (OSError, OutcomeUnknown) as error:
        raise NotCommittedError(f"a file could not be written, so nothing was committed: {error}") from error


def take_number(store: Store, number: int, content: bytes, token: str) -> bool:
    """Take the number; False where another writer has it. A broken connection is tried again with the same bytes.

    A disk that did not confirm is never asked a second time: its next answer may be "yes" for what it has dropped.
    """
    for again in range(4):
        try:
            store.log.append(number, content)
            witness.go_on(store.log, number)
            return True
        except AlreadyThere:
            return store.log.commit(number).get("token") == token
        except NotConfirmed as error:
            raise _unconfirmed(store, number, content, error) from error
        except OutcomeUnknown as error:
            cause: Exception = error
            _pause(again)
        except OSError as error:  # a local disk answers for certain whether the name stands: look
            if store.blobs.exists(commit_path(number)):
                if store.blobs.read(commit_path(number)) != content:
                    return False
                raise _unconfirmed(store, number, content, error) from error
            raise NotCommittedError(f"the commit could not be written: {error}") from error
    raise UnknownOutcomeError(
        f"the connection broke while commit {number} was sent and it is not known whether it landed: "
        f"look at the history before trying again ({cause})"
    ) from cause


def _unconfirmed(store: Store, number: int, content: bytes, error: Exception) -> FibrebookError:
    """Return what to tell of a commit that the disk did not confirm, after looking whether it stands there."""
    try:
        there = store.blobs.read(commit_path(number)) == content
    except Missing:
        there = False
    except FibrebookError:
        there = True  # it cannot be read: nothing is known
    if not there:
        return NotCommittedError(f"the disk did not confirm what it was to write, so nothing was committed: {error}")
    return UnknownOutcomeError(
        f"the disk did not confirm commit {number}: it stands in the register now, but may be gone after a power cut. "
        f"Open the register again and look at the history before trying again; take a copy to another disk ({error})"
    )


_pause: Callable[[int], None] = lambda again: time.sleep(0.05 * 4**again)  # noqa: E731
