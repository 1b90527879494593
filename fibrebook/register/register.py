"""The register as people and programs hold it: read tables, edit, look back, undo, verify, publish."""

from __future__ import annotations

import os
import uuid
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from fibrebook.errors import InputError, NotFoundError, ReadOnlyError, UnknownOutcomeError
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.values.one_value import as_label
from fibrebook.records.values.to_columns import kind_of
from fibrebook.records.values.to_frame import to_frame
from fibrebook.register.care_of_register import At, Names, Sites, Upkeep
from fibrebook.register.commits import history, undo
from fibrebook.register.commits.edit import Edit, required_text
from fibrebook.register.commits.history_index import HistoryIndex
from fibrebook.register.commits.proposal import Store
from fibrebook.register.places.where import AlreadyThere, OutcomeUnknown, blobs_for
from fibrebook.register.row_files.cores import codes_in, full_cores, usual_code_in
from fibrebook.register.row_files.read import Reader
from fibrebook.register.row_files.undeclared import all_undeclared
from fibrebook.register.store.commit_times import commit_at, commit_number
from fibrebook.register.store.log import Log
from fibrebook.register.store.state import FORMAT, State, utc_text, with_digest
from fibrebook.register.witnessed import Witnessed
from fibrebook.words.labels import natural
from fibrebook.words.nearest import did_you_mean

if TYPE_CHECKING:
    import pandas as pd


def create(where: str | os.PathLike[str], name: str = "") -> Register:
    """Make a new, empty register in a folder or bucket (s3://bucket/prefix) and open it.

    Raises
    ------
    InputError : there is a register already, or none can be made there
    NotFoundError : there is no such bucket
    UnknownOutcomeError : the disk did not confirm it, or the connection broke
    """
    blobs = blobs_for(where)
    title = required_text(name, "name", "the firm's name") if str(name).strip() else ""
    head = {"format": FORMAT, "id": str(uuid.uuid4()), "name": title, "created_utc": utc_text()}
    try:
        blobs.create("register.json", with_digest(head))
    except AlreadyThere:
        raise InputError(f"there is a register at {blobs.where} already; open it with fibrebook.open(...)") from None
    except OSError as error:
        raise InputError(f"no register can be made at {blobs.where}: {error.strerror or error}") from error
    except OutcomeUnknown as error:
        raise UnknownOutcomeError(
            f"it is not known whether the register at {blobs.where} was made: {error}. Make it in another place, or "
            "open it and look"
        ) from error
    return Register(where)


def open(where: str | os.PathLike[str], at: At = None, read_only: bool = False) -> Register:
    """Open a register.

    Parameters
    ----------
    where : folder, or bucket address
    at : commit number, time (UTC where it bears no zone) or day (its end, in UTC): the register as it was then,
        read-only; None follows the newest commit. A clock that was slow once makes no commit older than those before it

    Raises
    ------
    InputError : `at` is no number, day or time
    NotFoundError : no register there, no such commit
    FormatError : it was written by a newer fibrebook
    """
    return Register(where, at, read_only)


class Register(Witnessed, Upkeep):
    """A firm's register.

    Attributes
    ----------
    where : folder or bucket address
    name, id : as given when it was made
    read_only : whether it refuses changes
    """

    def __init__(self, where: str | os.PathLike[str], at: At = None, read_only: bool = False) -> None:
        blobs = blobs_for(where)
        log = Log(blobs)
        self._store = Store(blobs, log, Reader(blobs, log))
        self._index = HistoryIndex(log)
        head = self._store.log.head()
        self.where: str = blobs.where
        self.name: str = head.get("name", "")
        self.id: str = head["id"]
        self._at = None if at is None else commit_at(self._store.log, at)
        self.read_only = read_only or at is not None
        if at is None:
            self._take_witness()
        self.memory: dict[str, Any] = {}  # what readers above made of it and keep (fibrebook/snapshot)

    def __repr__(self) -> str:
        return f"<register {self.name or self.where!r} at commit {self.commit}>"

    @property
    def commit(self) -> int:
        """Number of the commit that it shows; 0 = still empty."""
        return self._store.log.newest() if self._at is None else self._at

    @property
    def committed_utc(self) -> str:
        """When the commit that it shows was made, as ISO text in UTC; "" where it is still empty."""
        return str(self._store.log.commit(self.commit)["time_utc"]) if self.commit else ""

    def _state(self) -> State:
        number = self.commit
        state = self._store.log.state(number)
        if self._at is None:
            self._witness(number)
        return state

    # --- reading -----------------------------------------------------------------------------------------------------
    def tables(self, site: Sites = None, names: Names = None, quick: bool = False) -> dict[str, pa.Table]:
        """Return stored rows as pyarrow Tables by name, all at the same commit.

        Parameters
        ----------
        site : a label, several, or None for all; a kind that belongs to no site comes whole in any case
        names : tables wanted, None = all
        quick : without asking plugins for the columns that they add to our tables, where nobody asked them yet

        Returns
        -------
        declared columns in order, text dictionary-encoded; `cores` holds only rows that say something (see `cores`)
        """
        labels = self._labels(site, state := self._state())
        kinds = KINDS.values() if names is None else [self._store.kind(n, quick) for n in names]
        return {k.name: self._store.reader.rows(state, k, labels if k.scope == "site" else None) for k in kinds}

    def arrow(self, kind: str, site: Sites = None) -> pa.Table:
        """Return the rows of one kind as a pyarrow Table, cores in full.

        Raises
        ------
        NotFoundError : no such table; PluginError : the register has it, but its plugin is not here
        """
        return self.cores(site) if kind == "cores" else self.tables(site, [kind])[kind]

    def cores(self, site: Sites = None) -> pa.Table:
        """Return every core of every cable as a pyarrow Table."""
        found = self.tables(site, ["cables", "cores", "colour_codes"])
        return full_cores(found["cables"], found["cores"], codes_in(found["colour_codes"]))

    def table(self, kind: str, site: Sites = None) -> pd.DataFrame:
        """Return the current rows of one kind as a DataFrame, keys first, cores in full.

        Raises
        ------
        NotFoundError : no such table or site
        """
        return to_frame(self.arrow(kind, site), kind_of(kind))

    def sites(self) -> list[str]:
        """Return the labels of all sites, 2 before 10."""
        return sorted(self.tables(None, ["sites"], True)["sites"]["site"].to_pylist(), key=natural)

    def has_site(self, site: str) -> bool:
        """Return whether there is a site of that label; reads no table."""
        return site in self._state().sites

    def undeclared(self) -> list[str]:
        """Return the tables, and columns as 'cables.drum', whose plugin is not here: kept as they are, in no answer."""
        return all_undeclared(self._state())

    def own_codes(self) -> dict[str, list[str]]:
        """Return the firm's own colour codes: code -> colours in order."""
        return codes_in(self.tables(names=["colour_codes"])["colour_codes"])

    def usual_code(self) -> str | None:
        """Return the colour code that the firm chose for new cables that say none; None = none chosen, so TIA-598."""
        return usual_code_in(self.tables(names=["choices"])["choices"])

    def _labels(self, site: Sites, state: State) -> list[str] | None:
        return None if site is None else self._known_labels(site, state.sites)

    def _known_labels(self, site: Sites, known: Mapping[str, str]) -> list[str]:
        try:
            wanted = [as_label(s) for s in ([site] if isinstance(site, str | int) else site or [])]
        except ValueError as error:
            raise InputError(str(error)) from None
        for label in wanted:
            if label not in known:
                raise NotFoundError(f"there is no site {label!r}; {_near(label, known)}")
        return wanted

    # --- changing ----------------------------------------------------------------------------------------------------
    def edit(self, by: str, why: str, base: int | None = None, what: str = "edit") -> Edit:
        """Begin an edit: `with reg.edit(by="initials", why="...") as edit: edit.put(...)`.

        Parameters
        ----------
        by, why : who and what for; kept with the commit
        base : commit that the changes were made on, where that is not the newest one
        """
        self._writable()
        return self._begin(by, why, base, what, trial=False)

    def trial(self, by: str, why: str, base: int | None = None, what: str = "edit") -> Edit:
        """Begin an edit that can be looked at and checked but never committed; needs no right to write.

        Parameters
        ----------
        by, why, base, what : as `edit` takes them

        Raises
        ------
        NotFoundError : no such commit to base it on
        """
        return self._begin(by, why, base, what, trial=True)

    def _begin(self, by: str, why: str, base: int | None, what: str, trial: bool) -> Edit:
        newest = self._store.log.newest()
        base = newest if base is None else _number(base)
        if not 0 <= base <= newest:
            raise NotFoundError(f"there is no commit {base} to base an edit on; the newest is {newest}")
        return Edit(self._store, by, why, base, what, trial)

    def undo(self, commit: int, by: str, why: str) -> int:
        """Take back one commit by a new one; what others changed since stays. Return the new number.

        Raises
        ------
        ConflictError : a later commit stands in the way; it is named
        """
        self._writable()
        return undo.undo(self._store, commit_at(self._store.log, _number(commit)), by, why)

    def _writable(self) -> None:
        if self._at is not None:
            raise ReadOnlyError(
                f"this is the register as it was at commit {self._at}; open it without `at` to change it"
            )
        if self.read_only:
            raise ReadOnlyError("the register was opened read-only; open it without read_only to change it")

    # --- looking back ------------------------------------------------------------------------------------------------
    def history(self, kind: str | None = None, key: Any = None, site: str | None = None) -> pd.DataFrame:
        """Return who changed what, newest last.

        Parameters
        ----------
        kind : a table; key : a record's key as tuple (with or without the site), label or dict; site : a label

        Returns
        -------
        commit, time_utc, by, why, table, key (tuple), column, before, after, op (added, changed, removed)
        """
        declared = None if kind is None else self._store.kind(kind)
        label = None if site is None else as_label(site)
        if not self.read_only:
            self._index.carry_on()
        return history.rows_frame(self._index.rows(self.commit, declared, key, label))

    def log(self, last: int | None = None) -> pd.DataFrame:
        """Return one row a commit: commit, time_utc, by, why, what, based_on, tables, sites, changes.

        Parameters
        ----------
        last : only so many of the newest; None = all
        """
        newest = self.commit
        return history.log_frame(self._store.log, newest, 1 if last is None else newest - last + 1)

    def differences(self, earlier: At, later: At = None, site: Sites = None) -> pd.DataFrame:
        """Return every cell that differs between two commits, times or days, in the columns of the history.

        Parameters
        ----------
        earlier, later : commit number, time or day; later None = the commit that is shown
        """
        log = self._store.log
        first = log.state(0 if earlier is None else commit_at(log, earlier))
        last = log.state(self.commit if later is None else commit_at(log, later))
        labels = None if site is None else self._known_labels(site, {**first.sites, **last.sites})
        return history.to_history_frame([({}, history.differences(self._store.reader, first, last, labels))])


def _number(commit: Any) -> int:
    found = commit_number(commit)
    if found is None:
        raise InputError(f"{str(commit)[:60]!r} is no commit; give its number, see reg.log()")
    return found


def _near(label: str, known: Mapping[str, str]) -> str:
    return did_you_mean(label, known, 1, f"there are {len(known)} sites, see reg.sites()")
