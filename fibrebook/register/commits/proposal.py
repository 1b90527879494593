"""What a commit is made of: a register's store, what somebody proposes, and that laid over the newest state."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import pyarrow as pa

from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.records.rules.breach import Judged
from fibrebook.records.values.to_columns import kind_of
from fibrebook.register.places.packs import Packed
from fibrebook.register.row_files.columns_stored import Columns, stored_kinds
from fibrebook.register.row_files.merge import Choices
from fibrebook.register.row_files.read import Reader
from fibrebook.register.row_files.undeclared import lacking, undeclared
from fibrebook.register.store.log import Log
from fibrebook.register.store.state import Json, State

Tables = dict[str, pa.Table]


@dataclass
class Store:
    """One register's files, log and reader."""

    blobs: Packed
    log: Log
    reader: Reader

    def tables(self, state: State, sites: Sequence[str], kinds: Mapping[str, Kind] | None = None) -> Tables:
        """Return all tables of some sites as they are stored, in the columns of `kinds` (None: those of the state)."""
        kinds = stored_kinds(state.columns) if kinds is None else kinds
        return {k.name: self.reader.rows(state, k, sites) for k in kinds.values()}

    def kind(self, name: str, quick: bool = False) -> Kind:
        """Return the kind of a table by name; quick, without asking plugins for columns that they add to ours.

        Raises
        ------
        PluginError : the register has it, but the plugin that adds it is not here
        NotFoundError : there is none; it names the nearest
        """
        if name not in KINDS and name in undeclared(self.log.state(self.log.newest())):
            raise lacking(name)
        return KINDS.at_hand(name) if quick and name in KINDS else kind_of(name)


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
    more: Json = field(default_factory=dict)  # what else the commit file is to say
    unsure: bool = False  # it is not known which state it was made on: blanks are filled, all else is to be decided
    token: str = field(default_factory=lambda: uuid.uuid4().hex)
    kinds: Mapping[str, Kind] = field(default_factory=dict)  # tables in it that nobody here declares
    columns: Columns = field(default_factory=dict)  # that plugins have added where it comes from


@dataclass
class Merged:
    """A proposal laid over the newest state: all tables of the touched sites, and what differs."""

    state: State
    tables: Tables
    changed: Tables  # kind -> long-form changes, only kinds with any
    kinds: Mapping[str, Kind]
    columns: Columns
    judged: Judged | None = None  # the tables as the rules saw them, with their reference index
