"""All that an answer, picture or screen needs of one site, or of all: at one commit, or as an edit would leave it.

Everything is made when first asked for, and then kept: who asks for a cross reference does not pay for losses.
"""

from __future__ import annotations

import datetime as dt
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa

from fibrebook.errors import NotFoundError
from fibrebook.light.catalogue.values import FIRM_TABLES, Values
from fibrebook.losses.table import LossTable
from fibrebook.plant import Network, core_states
from fibrebook.plant.light_ways import Ways, light_ways
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.register.row_files.cores import full_cores
from fibrebook.snapshot.names import Names
from fibrebook.snapshot.spoken import SpokenNames
from fibrebook.words.nearest import did_you_mean

if TYPE_CHECKING:
    from fibrebook.records.references.reference_index import Ends
    from fibrebook.register import Register
    from fibrebook.register.commits.edit import Edit

PLANT_TABLES = (
    "sites", "enclosures", "ports", "cables", "cores", "splices", "terminations", "equipment", "interfaces", "patches",
    "channels",
)  # fmt: skip
KEPT = 4  # snapshots that a register keeps: the one in hand and a few sites looked at just before


class TablesOnDemand(Mapping[str, pa.Table]):
    """Tables of one commit by kind, each read when first asked for."""

    def __init__(self, read: Callable[[Sequence[str]], Mapping[str, pa.Table]]) -> None:
        self._read = read
        self._found: dict[str, pa.Table] = {}

    def __getitem__(self, kind: str) -> pa.Table:
        if kind not in KINDS:
            raise KeyError(kind)
        self.fetch([kind])
        if len(self._found[kind].column_names) < len(KINDS.at_hand(kind).names):  # plugins were asked since
            self._found |= self._read([kind])
        return self._found[kind]

    def fetch(self, kinds: Sequence[str]) -> None:
        """Read what of these was not read yet, in one go."""
        wanted = [kind for kind in kinds if kind not in self._found]
        if wanted:
            self._found |= self._read(wanted)

    def __contains__(self, kind: object) -> bool:
        return kind in KINDS

    def __iter__(self) -> Iterator[str]:
        return iter(KINDS)

    def __len__(self) -> int:
        return len(KINDS)


class Laid(Mapping[str, pa.Table]):
    """Some tables laid over others."""

    def __init__(self, below: Mapping[str, pa.Table], over: Mapping[str, pa.Table]) -> None:
        self._below, self._over = below, dict(over)

    def __getitem__(self, kind: str) -> pa.Table:
        return self._over[kind] if kind in self._over else self._below[kind]

    def __iter__(self) -> Iterator[str]:
        return iter({**dict.fromkeys(self._below), **self._over})

    def __len__(self) -> int:
        return len({*self._below, *self._over})


@dataclass(frozen=True, eq=False)
class PlantSnapshot:
    """The plant of one site or of all.

    Attributes
    ----------
    tables : rows by kind, read when first asked for; a kind that is not there counts as empty
    today : the day that ages are told from; site : label, None = all; commit : None = as an edit would leave it
    """

    tables: Mapping[str, pa.Table]
    today: dt.date = field(default_factory=dt.date.today)
    site: str | None = None
    commit: int | None = None

    @classmethod
    def of(cls, reg: Register, site: str | None = None) -> PlantSnapshot:
        """Return a site (None: the whole register) at the register's newest commit; the register keeps the last few.

        Raises NotFoundError, with the nearest names, where there is no such site.
        """
        if site is not None:
            check_site(reg, site)
        kept: OrderedDict[Any, PlantSnapshot] = reg.memory.setdefault("snapshots", OrderedDict())
        key = (reg.commit, site, dt.date.today())
        if key not in kept:
            commit = reg.commit
            kept[key] = cls(TablesOnDemand(lambda kinds: _at(reg, commit, site, kinds)), site=site, commit=commit)
        kept.move_to_end(key)
        while len(kept) > KEPT:
            kept.popitem(last=False)
        return kept[key]

    @classmethod
    def proposed(cls, reg: Register, edit: Edit, site: str) -> PlantSnapshot:
        """Return a site as committing an edit now would leave it: the very rows that a save would commit.

        Raises the ConflictError or RuleError that committing would raise.
        """
        left = edit.check()
        return cls.of_site_or_new(reg, site).with_tables(left, left.ends if left else None)

    @classmethod
    def of_site_or_new(cls, reg: Register, site: str) -> PlantSnapshot:
        """Return a site as it is; one that is not in the register yet has no rows."""
        if reg.has_site(site):
            return cls.of(reg, site)
        empty = {name: kind.empty() for name, kind in KINDS.items()}
        return cls(empty | reg.tables(names=FIRM_TABLES), site=site)

    def with_tables(self, changed: Mapping[str, pa.Table], ends: Ends | None = None) -> PlantSnapshot:
        """Return the snapshot as it would be with other tables; `ends`: their reference index where it was made."""
        found = PlantSnapshot(Laid(self.tables, changed), self.today, self.site)
        if ends is not None:
            vars(found)["_ends"] = ends
        return found

    def on(self, today: dt.date) -> PlantSnapshot:
        """Return the same rows, with ages told from another day."""
        return PlantSnapshot(self.tables, today, self.site, self.commit)

    def table(self, kind: str) -> pa.Table:
        """Return the rows of a kind, empty where there are none."""
        return self.tables[kind] if kind in self.tables else KINDS[kind].empty()

    @cached_property
    def values(self) -> Values:
        """Published and firm's values, and what the firm has chosen."""
        if isinstance(self.tables, TablesOnDemand):
            self.tables.fetch(FIRM_TABLES)
        return Values.of(self.tables)

    # --- the plant ---------------------------------------------------------------------------------------------------
    @cached_property
    def _ends(self) -> Ends | None:
        return None

    @cached_property
    def network(self) -> Network:
        """Everything joined to everything."""
        if isinstance(self.tables, TablesOnDemand):
            self.tables.fetch(PLANT_TABLES)
        found = Network(self.tables)
        if self._ends is not None:
            vars(found)["ends"] = self._ends
        return found

    @cached_property
    def names(self) -> Names:
        """What things are called."""
        return Names(self.network, None if self.site is None else lambda: self.spoken)

    @cached_property
    def spoken(self) -> SpokenNames:
        """What people call records otherwise than by their labels; plugins are asked now."""
        return SpokenNames(self)

    @cached_property
    def losses(self) -> LossTable:
        """What every element and every path loses."""
        return LossTable(self.network, self.values)

    @cached_property
    def light_ways(self) -> Ways:
        """The light's way in each direction of each channel."""
        return light_ways(self.network)

    @cached_property
    def core_state(self) -> Ints:
        """State of every core, as a code into `plant.STATES`."""
        return core_states(self.network).astype(np.int64)

    @cached_property
    def cores(self) -> pa.Table:
        """Every core of every cable, colours in words."""
        return full_cores(self.table("cables"), self.table("cores"), dict(self.values.own_codes))


def _at(reg: Register, commit: int, site: str | None, kinds: Sequence[str]) -> Mapping[str, pa.Table]:
    """Tables of a register as they were at a commit, also where it has gone on meanwhile."""
    if reg.commit == commit:
        found = reg.tables(site, kinds, quick=True)
        if reg.commit == commit:
            return found
    return type(reg)(reg.where, at=commit).tables(site, kinds, quick=True)


def network(reg: Register, site: str | None = None) -> Network:
    """Return the network of a site (None: of the whole register) at the register's newest commit."""
    return PlantSnapshot.of(reg, site).network


def check_site(reg: Register, site: str) -> None:
    """Raise NotFoundError, with the nearest names, where the register has no such site."""
    if reg.has_site(site):
        return
    known = reg.sites()
    hint = did_you_mean(site, known, otherwise=f"there are {len(known)} sites; see the table 'sites'")
    raise NotFoundError(f"there is no site {site!r}; {hint}")
