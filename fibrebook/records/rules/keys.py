"""One key, one row; each at a site that is there; one name, one thing."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pyarrow as pa

from fibrebook.errors import Problem
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.records.references.labels_as_numbers import Index, Labels, integers
from fibrebook.records.rules.breach import Judged, each, one_row, problem


def unique_keys(tables: Judged) -> Iterator[Problem]:
    """Name each key that stands more than once in its table."""
    for kind in KINDS.values():
        if kind.name in tables and tables[kind.name].num_rows > 1:
            yield from _repeated(kind, tables[kind.name])


def _repeated(kind: Kind, table: pa.Table) -> Iterator[Problem]:
    ids = np.zeros(table.num_rows, np.int64)
    for name in kind.key:
        column = table[name]
        codes = integers(column) if kind.by_name[name].type == "integer" else Labels().ids(column)
        _, ids = np.unique(ids * (codes.max() + 1) + codes, return_inverse=True)
    _, first, count = np.unique(ids, return_index=True, return_counts=True)
    for i, n in zip(first[count > 1], count[count > 1], strict=True):
        remedy = "a key may stand once: give the others another label"
        yield problem(kind.name, one_row(table, i), i, f"stands {n} times", remedy)


def site_there(tables: Judged) -> Iterator[Problem]:
    """Name each record of a site that is not there."""
    ends = tables.ends
    known = Index(ends.site_ids("sites"))
    for kind in KINDS.values():
        if kind.scope == "site" and kind.name != "sites" and ends.table(kind.name).num_rows:
            yield from each(
                ends,
                kind.name,
                known.rows(ends.site_ids(kind.name)) < 0,
                lambda r: (f"there is no site {r['site']!r}", "add it to the table 'sites' or mend its spelling"),
                "site",
                lambda r: (("sites", (r["site"],)),),
            )


def shared_names(tables: Judged) -> Iterator[Problem]:
    """Name each enclosure that bears the name of equipment at its site."""
    ends = tables.ends
    key = ends.place_site * len(ends.place_labels) + ends.place_label
    both = np.isin(key[: ends.n_enclosures], key[ends.n_enclosures :])
    yield from each(
        ends,
        "enclosures",
        both,
        lambda r: ("equipment of this site bears the same name", "they share one set of names: rename one"),
    )
