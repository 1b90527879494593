"""What an advice check is given, and what it gives back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.firm import choices_of
from fibrebook.analyses.headroom import headroom_table
from fibrebook.analyses.weights import Weights
from fibrebook.plant import Network, core_states
from fibrebook.plant.polarity import Ways, light_ways
from fibrebook.records.ends import Ints, key_text
from fibrebook.records.kinds import KINDS


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
    """The plant of one site or of all, with what the checks share. `tables` holds every kind of record."""

    tables: Mapping[str, pa.Table]
    today: dt.date
    own_codes: dict[str, list[str]]

    @cached_property
    def net(self) -> Network:
        """Everything joined to everything."""
        return Network(self.tables)

    @cached_property
    def weights(self) -> Weights:
        """Losses by element and by path."""
        return Weights(self.net)

    @cached_property
    def states(self) -> np.ndarray:
        """State of every core."""
        return core_states(self.net)

    @cached_property
    def ways(self) -> Ways:
        """The light's way in each direction of each channel."""
        return light_ways(self.net)

    @cached_property
    def headroom(self) -> pa.Table:
        """Headroom of every channel, wavelength and direction."""
        return headroom_table(self.net, choices_of(self.table("choices")).margin_db)

    def table(self, kind: str) -> pa.Table:
        """Rows of a kind, empty where none were given."""
        return self.tables[kind] if kind in self.tables else KINDS[kind].empty()

    def rows(self, kind: str, which: Iterable[int] | np.ndarray) -> Iterator[dict[str, Any]]:
        """Rows of a table by number, as dicts."""
        numbers = np.flatnonzero(which) if isinstance(which, np.ndarray) and which.dtype == bool else list(which)
        yield from self.tables[kind].take(pa.array(numbers, pa.int64())).to_pylist()

    def advise(self, check: str, kind: str, row: Mapping[str, Any], what: str, do: str) -> Advice:
        """Make an Advice about one row of a table."""
        own = tuple(k for k in KINDS[kind].key if k != "site") or ("site",)
        return Advice(str(row["site"]), check, kind, key_text(row, own), what, do)

    def core(self, core: int) -> dict[str, Any]:
        """Site, cable and number of a core of the network."""
        row = self.tables["cables"].slice(int(self.net.ends.core_cable[core]), 1).to_pylist()[0]
        return {"site": row["site"], "cable": row["cable"], "core": int(self.net.ends.core_number[core])}


def natural_rank(texts: list[str]) -> Ints:
    """Rank of each label as people sort them: 2 before 10."""
    import re

    def key(text: str) -> list[tuple[int, int, str]]:
        return [(0, int(t), "") if t.isdigit() else (1, 0, t) for t in re.split(r"(\d+)", text) if t]

    order = sorted(range(len(texts)), key=lambda i: key(texts[i]))
    rank = np.empty(len(texts), np.int64)
    rank[order] = np.arange(len(texts))
    return rank
