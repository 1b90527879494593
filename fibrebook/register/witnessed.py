"""The part of a register that knows whether it is still the one that this machine saw before."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING

from fibrebook.errors import FibrebookError
from fibrebook.register.commits.proposal import Store
from fibrebook.register.places.asked import Missing
from fibrebook.register.places.packs import Packed
from fibrebook.register.store import witness
from fibrebook.register.store.commit_files import commit_names
from fibrebook.register.store.log import Log, RegisterWarning
from fibrebook.register.store.state import digest

if TYPE_CHECKING:
    from fibrebook.register.store.state import State


class Witnessed:
    """What speaks against a register's being as it was left, and how it is settled."""

    _store: Store
    _witnessed = -1  # the newest commit that was compared with what this machine saw; -1 = none yet
    _unlike_seen = ""

    if TYPE_CHECKING:

        def _state(self) -> State: ...

    def commit_digest(self, commit: int) -> str:
        """Return the SHA-256 of a commit's file, which tells it from any other of its number; "" for 0.

        Raises
        ------
        DamagedError : it is missing
        """
        return digest(self._store.log.raw(commit)) if commit else ""

    @property
    def doubts(self) -> tuple[str, ...]:
        """What speaks against its being the firm's own register as it was left, in words; () = nothing.

        A signature that is not good, as far as commits were read; newest commits that were cut off, or a past that was
        written anew, since this machine read it last (see `take_as_it_is`).
        """
        return tuple(filter(None, (self._unlike_seen, self._store.log.doubt)))

    def take_as_it_is(self) -> None:
        """Take the register as it stands: what this machine saw of it before counts no more.

        For one that was restored from a backup on purpose, or whose past somebody had to write anew.
        """
        witness.forget(self._store.log)
        self._store.log.forget()
        self._store.log.signed_from, self._store.log.doubt = None, ""
        self._witnessed = -1
        self._state()

    def _take_witness(self) -> None:
        """Know from the start since when its commits are signed."""
        seen = witness.last_seen(self._store.log)
        if seen is not None and seen.signed_from:
            self._store.log.signed_from = seen.signed_from

    def _witness(self, newest: int) -> None:
        """Compare the register with what this machine saw of it last; keep what it is now unless that is in doubt."""
        if newest == self._witnessed:
            return
        self._witnessed = newest
        found = witness.go_on(self._store.log, newest)
        if found and found != self._unlike_seen:
            warnings.warn(found, RegisterWarning, stacklevel=3)
        self._unlike_seen = found


def unlike_seen(blobs: Packed) -> str:
    """Return how a register differs from what this machine saw of it, as far as it can be read.

    What was seen may lie beside the commit of its number, where a synchronising drive laid it: mending brings it in.
    """
    log = Log(blobs, quiet=True)
    try:
        seen = witness.last_seen(log)
        found = witness.doubt(log, log.newest(), seen)
        beside = commit_names(blobs)[1] if found else []
        there = seen is not None and any(digest(blobs.read(f"commits/{name}")) == seen.digest for name in beside)
        return "" if there else found
    except (FibrebookError, Missing, OSError):
        return ""
