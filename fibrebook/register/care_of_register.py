"""What keeps a register in order: copies, kept edits, checking, mending, tidying, redaction, publishing."""

from __future__ import annotations

import datetime as dt
import os
import warnings
from collections.abc import Collection, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import pyarrow as pa

from fibrebook.errors import InputError, NotFoundError, UnknownOutcomeError
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.records.values.one_value import as_label
from fibrebook.register.care import mend, redact, tidy, usable, verify
from fibrebook.register.commits import pending, undo
from fibrebook.register.commits.edit import Edit
from fibrebook.register.commits.proposal import Store
from fibrebook.register.copies import bring_back
from fibrebook.register.copies import preview as copy_preview
from fibrebook.register.copies import take_away as copies
from fibrebook.register.places.asked import OutcomeUnknown
from fibrebook.register.places.folder import LocalFolder
from fibrebook.register.places.where import blobs_for
from fibrebook.register.row_files import undeclared
from fibrebook.register.row_files.columns_stored import stored_kinds, undeclared_columns
from fibrebook.register.row_files.cores import codes_in, full_cores
from fibrebook.register.row_files.site_rows import plain
from fibrebook.register.row_files.written import to_parquet
from fibrebook.register.store import witness
from fibrebook.register.store.log import Log, RegisterWarning
from fibrebook.register.witnessed import unlike_seen

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register.store.state import State

Sites = str | int | Sequence[str] | None  # what of a register: a site's label, several, or None for all
Names = Iterable[str] | None  # of tables, or None for all
At = int | dt.datetime | dt.date | str | None  # when: a commit's number, a time or a day; None = now


class Upkeep:
    """The part of a register that looks after it."""

    _store: Store

    if TYPE_CHECKING:

        def __init__(self, where: str | os.PathLike[str], at: At = None, read_only: bool = False) -> None: ...
        def _writable(self) -> None: ...
        def _state(self) -> State: ...
        def _labels(self, site: Sites, state: State) -> list[str] | None: ...
        def arrow(self, kind: str, site: Sites = None) -> pa.Table: ...  # noqa: D102

    # --- copies ------------------------------------------------------------------------------------------------------
    def take_away(self, where: str | os.PathLike[str], site: Sites = None, personal: bool = True) -> Self:
        """Copy the register, or some of its sites, to an empty place and open the copy; it can be edited there.

        Parameters
        ----------
        site : a site's label, several, or None for all
        personal : with the columns that hold personal data or access secrets

        Notes
        -----
        A whole copy with personal data holds the whole past; any other begins with the sites as they stand.
        """
        labels = self._labels(site, self._state())
        copies.take_away(self._store, blobs_for(where), labels, personal)
        return type(self)(where)

    def bring_back(self, copy: str | os.PathLike[str], by: str, why: str, choices: Any = None) -> int | None:
        """Merge what was changed in a copy since it was taken, commit by commit, under their authors and times.

        Parameters
        ----------
        choices : for conflicts "mine" (the copy's) or "theirs" (what is here): one for all, a list in their order, or
            a mapping as `fibrebook.register.commits.decisions.read_decisions` returns it

        Returns
        -------
        number of the last commit made, None where nothing was changed

        Raises
        ------
        ConflictError : both changed the same, see its `conflicts`; nothing was brought back
        InputError : a copy of another register
        """
        self._writable()
        return bring_back.bring_back(self._store, type(self)(copy, read_only=True)._store, by, why, choices)

    def bring_back_preview(self, copy: str | os.PathLike[str], choices: Any = None) -> copy_preview.CopyPreview:
        """Return what a copy is, what was done in it, and what bringing it back would change; nothing is written.

        Parameters
        ----------
        choices : as for `bring_back`; conflicts without one are listed as undecided

        Raises
        ------
        InputError : a copy of another register, or this register itself; NotFoundError : no copy there
        """
        return copy_preview.preview(self._store, type(self)(copy, read_only=True)._store, choices)

    # --- kept edits --------------------------------------------------------------------------------------------------
    def pending(self) -> pd.DataFrame:
        """Return the edits that met a conflict and wait: name, kept_utc, by, why, base, rows, reasons."""
        return pending.frame(self._store.blobs)

    def pending_conflicts(self, name: str) -> pd.DataFrame:
        """Return what a kept edit conflicts with today: table, key, column, base, theirs, mine."""
        return pending.conflicts_frame(undo.conflicts_now(self._store, self._kept(name)))

    def pending_resolve(self, name: str, choices: Any = None) -> int | None:
        """Apply a kept edit; return its commit (None: nothing was left to change).

        Parameters
        ----------
        choices : "mine" or "theirs" for all conflicts, a list in their order, or a dict by their number
        """
        self._writable()
        edit = self._kept(name)
        found = undo.conflicts_now(self._store, self._kept(name))
        number = edit.finish(pending.decided(found, choices), kept_as=name)
        self._store.blobs.delete(f"pending/{name}.json")
        return number

    def pending_drop(self, name: str) -> None:
        """Throw a kept edit away."""
        self._writable()
        pending.drop(self._store.blobs, name)

    def _kept(self, name: str) -> Edit:
        content = pending.load(self._store.blobs, name)
        edit = Edit(self._store, content["by"], content["why"], content["base"], content["what"])
        edit.unsure = content.get("unsure") is True
        for table, rows in content["tables"].items():
            if rows["remove"]:
                edit.remove(table, [tuple(k) for k in rows["remove"]])
        for table, rows in content["tables"].items():
            edit.put(table, rows["put"])
        return edit

    # --- order -------------------------------------------------------------------------------------------------------
    def verify(self) -> pd.DataFrame:
        """Read everything again and return what is damaged: what, file, table, segment, sites. Empty = sound.

        Each file's digest is compared, each table read as reading does, and the newest state taken as a save takes it.

        Where the environment variable FIBREBOOK_KEY names a key file, signatures are checked too; else
        `attrs["signatures_not_checked"]` tells how many commits bear one. A register that is older than this machine
        saw it before, or another, is told.
        """
        log = Log(self._store.blobs, quiet=True)
        look = usable.Usable(log)
        walk = verify.walked(self._store.blobs, look, log)
        found = [*walk.found, *look.newest_state({d.file for d in walk.found})]
        if doubt := witness.doubt(log, max(walk.raw, default=0), witness.last_seen(log)):
            found.append(verify.Damage(doubt, "commits"))
        frame = verify.to_frame(found)
        frame.attrs["signatures_not_checked"] = walk.unchecked
        return frame

    def mend(
        self, by: str = "", why: str = "", source: str | os.PathLike[str] | None = None, dry_run: bool = False
    ) -> pd.DataFrame:
        """Put right what history, or another copy at `source`, still holds; return file, what, how, ok.

        Never is a state that can be read made older or unreadable; what is replaced is kept in the folder `replaced`
        until the next tidy; where two answers are possible nothing is moved, and `how` says so.

        Parameters
        ----------
        by, why : who and what for; needed unless `dry_run`
        dry_run : tell what would be done and change nothing
        """
        if not dry_run:
            self._writable()
        return mend.to_frame(mend_place(self._store.blobs.where, by, why, source, dry_run))

    def tidy(self, keep_days: float, by: str, why: str) -> tidy.Tidied:
        """Remove what only states older than some days need; who changed what in them stays in the history.

        Commits and changes older than a day are put together into packs, every byte kept, so that there are few files.
        """
        self._writable()
        return tidy.tidy(self._store, keep_days, by, why)

    def redact(
        self,
        by: str,
        why: str,
        site: Any = None,
        customer: str | None = None,
        columns: Collection[str] | None = None,
        photos: str | None = None,
    ) -> redact.Redaction:
        """Take personal data of a site, or of all sites of a customer, out of the present and the whole past.

        Parameters
        ----------
        columns : as table.column ("sites.contact"); None = all columns that hold personal data, and the customer's
            name where a customer is given
        photos : "details": what the camera wrote into the site's photos goes (place, time, device), the pictures stay;
            "all": the photos go whole; "none": they stay; None = "details", and "none" where columns are named

        Raises
        ------
        NotFoundError : there never was such a site or customer
        PluginError : a table holds rows of the site whose plugin is not here, so what in it is personal is not known;
            columns that are named can be taken out all the same
        """
        self._writable()
        label = None if site is None else as_label(site)
        if label is not None and not any(
            label in self._store.log.commit(n)["changes"]["sites"] for n in range(1, self._store.log.newest() + 1)
        ):
            raise NotFoundError(f"there never was a site {label!r}")
        wanted = redact.personal_columns(columns)
        if customer is not None and columns is None:
            wanted["sites"] = [*wanted.get("sites", []), "customer"]
        sites = redact.sites_of(self._store, label, customer)
        if columns is None:
            redact.refuse_untold(self._store, sites)
        return redact.redact(self._store, by, why, sites, wanted, photos or ("details" if columns is None else "none"))

    def publish(self, folder: str | os.PathLike[str], personal: bool = True) -> list[Path]:
        """Write the current state as one plain Parquet file per table, cores in full; return the paths.

        Any tool that reads Parquet reads them; files of an earlier publishing are replaced. A table whose plugin is not
        here is written too; not where `personal` is False, since what in it is personal is not known.

        Parameters
        ----------
        personal : with the columns that hold personal data or access secrets; False leaves the columns out

        Raises
        ------
        InputError : the folder cannot be written to; UnknownOutcomeError : the disk did not confirm
        """
        target = LocalFolder(Path(folder).expanduser())
        written = []
        state = self._state()
        others, columns = undeclared.reading(self._store.reader, state), undeclared_columns(state.columns)
        known = stored_kinds(state.columns) if personal else KINDS
        if (others or columns) and not personal:
            warnings.warn(undeclared.left_out_whole([*others, *columns]), RegisterWarning, stacklevel=2)
            others = {}
        for kind in [*known.values(), *(k for k, _ in others.values())]:
            table = plain(others[kind.name][1] if kind.name in others else self._in_full(kind), kind)
            if not personal:
                table = table.select([c.name for c in kind.columns if not c.personal])
            path = target.root / f"{kind.name}.parquet"
            try:
                target.replace(path.name, to_parquet(table, row_group_size=100_000))
            except OSError as error:
                why = error.strerror or error
                raise InputError(f"the tables cannot be published to {path}: {why}; choose another folder") from error
            except OutcomeUnknown as error:
                raise UnknownOutcomeError(
                    f"it is not known whether {path} was written for good: {error}. Publish again, to another disk"
                ) from error
            written.append(path)
        return written

    def _in_full(self, kind: Kind) -> pa.Table:
        """Return the rows of a kind in its columns, cores in full."""
        read, state = self._store.reader.rows, self._state()
        if kind.name != "cores":
            return read(state, kind)
        return full_cores(
            read(state, KINDS["cables"]), read(state, kind), codes_in(read(state, KINDS["colour_codes"])), kind
        )


def mend_place(
    where: str | os.PathLike[str],
    by: str,
    why: str,
    source: str | os.PathLike[str] | None = None,
    dry_run: bool = False,
) -> list[mend.Mended]:
    """Mend a register that may be too damaged to open; return one line for each thing found."""
    blobs = blobs_for(where)
    doubted = unlike_seen(blobs)
    done = mend.mend(blobs, by, why, None if source is None else blobs_for(source), dry_run)
    if done and not dry_run and not doubted and unlike_seen(blobs):
        witness.forget(Log(blobs, quiet=True))  # what mending itself made another is no doubt of what was mended
    return done
