"""Writing a commit: segments and changes first, then the file that names them, which is the commit."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Protocol

import pyarrow as pa

from fibrebook.errors import NotCommittedError, UnknownOutcomeError
from fibrebook.records.kinds import KINDS, site_kinds
from fibrebook.register.files import AlreadyThere, OutcomeUnknown
from fibrebook.register.history import CHANGES
from fibrebook.register.proposal import Merged, Proposal, Store
from fibrebook.register.segments import (
    Places,
    plain,
    put_once,
    rows_by_site,
    split_by,
    to_parquet,
    without_sites,
    write_segment,
)
from fibrebook.register.signature import with_signature
from fibrebook.register.state import (
    CHECKPOINT_EVERY,
    FIRM_SEGMENT,
    FORMAT,
    FileRef,
    Json,
    State,
    commit_path,
    digest,
    signed,
    utc_text,
)


class About(Protocol):
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
    return content(store, proposal, merged.state, number, long, segments, sites)


def content(
    store: Store,
    proposal: About,
    state: State,
    number: int,
    long: pa.Table,
    segments: Json,
    sites: Json,
    more: Json | None = None,
) -> bytes:
    """Write the changes, and return the bytes of the commit file that follows `state`."""
    data = to_parquet(long, row_group_size=max(len(long), 1))
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
            "tables": sorted(set(long["table"].unique().to_pylist())),
            "sites": sorted(set(long["site"].unique().to_pylist())),
        },
        **proposal.more,
        **(more or {}),
    }
    if number % CHECKPOINT_EVERY == 0:
        body["checkpoint"] = state.after(body).as_checkpoint()
    return signed(with_signature(body))


def _write_segments(store: Store, proposal: Proposal, merged: Merged) -> tuple[Json, Json]:
    """Write the segments that differ; return the commit's deltas of segments and sites."""
    state = merged.state
    counts = rows_by_site(merged.tables[k.name] for k in site_kinds())
    places = Places(state)
    home = {site: places.place(site, rows) for site, rows in counts.items()}
    gone = [s for s in proposal.sites if s in state.sites and s not in counts]
    of_segment: dict[str, list[str]] = {}
    for site in [*counts, *gone]:
        of_segment.setdefault(places.sites[site], []).append(site)
    segments: dict[str, dict[str, Json | None]] = {}
    for name, long in merged.changed.items():
        kind = proposal.kinds[name] if name in proposal.kinds else KINDS[name]
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


def written(write: Callable[[], bytes]) -> bytes:
    """Write files that no commit names yet; NotCommittedError where the place refuses."""
    try:
        return write()
    except (OSError, OutcomeUnknown) as error:
        raise NotCommittedError(f"a file could not be written, so nothing was committed: {error}") from error


def take_number(store: Store, number: int, content: bytes, token: str) -> bool:
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
