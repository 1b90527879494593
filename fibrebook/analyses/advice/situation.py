"""What an advice check is given, and what it gives back."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.budgets.headroom import headroom_table
from fibrebook.light.catalogue.values import Values
from fibrebook.losses.table import LossTable
from fibrebook.plant import Network
from fibrebook.plant.light_ways import Ways
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.records.references.reference_index import key_text
from fibrebook.snapshot.snapshot import PlantSnapshot


@dataclass(frozen=True)
class Advice:
    """One thing worth a second look.

    check : short name of the check; table, record : what it is about (record as read on the label);
    what : what is so; do : what may be done about it
    """

    site: str
    check: str
    table: str
    record: str
    what: str
    do: str


@dataclass(frozen=True)
class Situation:
    """The plant of one site or of all, with what the checks share. Everything is made when first asked for."""

    seen: PlantSnapshot

    @property
    def tables(self) -> Mapping[str, pa.Table]:
        """Rows by kind."""
        return self.seen.tables

    @property
    def today(self) -> dt.date:
        """The day that ages are told from."""
        return self.seen.today

    @property
    def values(self) -> Values:
        """Published and firm's values, and what the firm has chosen."""
        return self.seen.values

    @property
    def net(self) -> Network:
        """Everything joined to everything."""
        return self.seen.network

    @property
    def losses(self) -> LossTable:
        """Losses by element and by path."""
        return self.seen.losses

    @property
    def states(self) -> np.ndarray:
        """State of every core."""
        return self.seen.core_state

    @property
    def ways(self) -> Ways:
        """The light's way in each direction of each channel."""
        return self.seen.light_ways

    @cached_property
    def headroom(self) -> pa.Table:
        """Headroom of every channel, wavelength and direction."""
        return headroom_table(self.seen)

    def table(self, kind: str) -> pa.Table:
        """Rows of a kind, empty where none were given."""
        return self.seen.table(kind)

    def rows(self, kind: str, which: Iterable[int] | np.ndarray) -> Iterator[dict[str, Any]]:
        """Rows of a table by number, as dicts."""
        numbers = np.flatnonzero(which) if isinstance(which, np.ndarray) and which.dtype == bool else list(which)
        yield from self.tables[kind].take(pa.array(numbers, pa.int64())).to_pylist()

    def advise(self, check: str, kind: str, row: Mapping[str, Any], what: str, do: str) -> Advice:
        """Make an Advice about one row of a table."""
        own = tuple(k for k in KINDS[kind].key if k != "site") or ("site",)
        return Advice(str(row["site"]), check, kind, key_text(row, own), what, do)

    def cores(self, cores: Ints) -> Iterator[dict[str, Any]]:
        """Site, cable and number of cores of the network."""
        numbers = self.net.ends.core_number[cores].tolist()
        for row, number in zip(self.rows("cables", self.net.ends.core_cable[cores]), numbers, strict=True):
            yield {"site": row["site"], "cable": row["cable"], "core": number}


def advice_words(advice: Sequence[Advice]) -> list[str]:
    """Return advice a line each; the same thing said of many records is said once, with how many."""
    told = Counter((a.check, a.do) for a in advice)
    first = {(a.check, a.do): a for a in reversed(advice)}
    out = []
    for key, count in told.items():
        a = first[key]
        more = f" (and {count - 1} more like it)" if count > 1 else ""
        out.append(f"{a.table} {a.record}: {a.what}{more}. {a.do[:1].upper()}{a.do[1:]}")
    return out
