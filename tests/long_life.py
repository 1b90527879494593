"""Registers that have lived long: many commits, each with a tiny edit, written by the code that writes every commit.

Merging and the hard rules are left out, nothing is flushed to the disk, and nobody looks for what others may have
committed meanwhile, so that a thousand commits take seconds; segments, changes, checkpoints and digests are the
register's own, and a number is taken by the only create that may take one.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pyarrow as pa

from fibrebook.records import KINDS
from fibrebook.register import create
from fibrebook.register.commits import history, writing
from fibrebook.register.commits.proposal import Proposal
from fibrebook.register.places.folder import Disk
from fibrebook.register.register import Register
from fibrebook.register.store.state import commit_path, utc_text

KIND = KINDS["sites"]
BEGAN = dt.datetime(2006, 1, 2, 8, tzinfo=dt.UTC)
SITES = 10
HOURS_APART = 6  # 20,000 commits are 13.7 years


class UnflushedDisk(Disk):
    """Writes without waiting for the disk: for registers that no power cut will ever try."""

    def write(self, path: Path, data: bytes) -> None:
        """Make a new file."""
        with path.open("xb") as file:
            file.write(data)

    def flush_folder(self, folder: Path) -> None:
        """Leave it to the system."""


def unflushed(reg: Register) -> Register:
    """Let a register write without waiting for the disk."""
    reg._store.blobs.files.disk = UnflushedDisk()
    return reg


def long_lived(where: Path, commits: int, sites: int = SITES) -> Register:
    """Make a register of so many commits; commit n notes its number on site S(n mod sites)."""
    reg = unflushed(create(where, name="long lived"))
    grow(reg, commits, sites)
    return reg


def grow(reg: Register, commits: int, sites: int = SITES) -> None:
    """Add commits to a register that `long_lived` made, six hours apart."""
    real = writing.utc_text
    first = reg.commit + 1
    try:
        for number in range(first, first + commits):
            moment = BEGAN + dt.timedelta(hours=HOURS_APART * number)
            writing.utc_text = lambda m=moment: utc_text(m)
            one_commit(reg, number, f"S{number % sites}", number - sites if number > sites else None)
    finally:
        writing.utc_text = real


def one_commit(reg: Register, number: int, site: str, before: int | None) -> None:
    """Note a commit's number on a site, in one commit of that number; `before` is the number noted there till then."""
    store = reg._store
    state = store.log.state(number - 1)
    home = state.sites.get(site) or f"{1 + len(state.sites):04d}"  # a segment for each site
    row = {**dict.fromkeys(KIND.names), "site": site, "notes": f"note {number}"}
    ref = writing.write_segment(store.blobs, KIND, home, pa.Table.from_pylist([row], schema=KIND.schema))
    assert ref is not None
    earlier = None if before is None else f'"note {before}"'
    cell = {"table": KIND.name, "site": site, "key": f'["{site}"]', "column": "notes", "before": earlier}
    cell |= {"after": f'"note {number}"', "op": "added" if before is None else "changed"}
    long = pa.Table.from_pylist([cell], schema=history.CHANGES)
    about = Proposal(number - 1, (site,), {}, {}, "ab", f"visit {number}")
    moved = {} if site in state.sites else {site: home}
    data = writing.content(store, about, state, number, long, {"sites": {home: ref.as_json()}}, moved)
    store.blobs.create(commit_path(number), data)
