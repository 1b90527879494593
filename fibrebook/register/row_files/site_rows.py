"""Rows by the site that they belong to: which sites there are, their rows, a table without some of them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.records.kinds.declared import Kind

FIRM = ""  # stands for "the firm itself" where a list of sites is meant


def plain(table: pa.Table, kind: Kind) -> pa.Table:
    """Return a table with its text as plain strings, as it is merged and written."""
    return table if table.schema.equals(kind.schema) else table.cast(kind.schema)


def without_sites(table: pa.Table, sites: Collection[str]) -> pa.Table:
    """Return the rows of all other sites."""
    return table.filter(pc.invert(pc.is_in(table["site"], pa.array(list(sites), pa.string()))))


def sites_in(table: pa.Table) -> list[str]:
    """Return the different sites in a table, in order of first appearance; [FIRM] for a kind without sites."""
    if "site" not in table.column_names:
        return [FIRM] if table.num_rows else []
    return [s for s in pc.unique(table["site"]).to_pylist() if s is not None]


def split_by(table: pa.Table, segment_of: Mapping[str, str]) -> dict[str, pa.Table]:
    """Return the rows of each segment's sites, in their order."""
    coded = pc.dictionary_encode(table["site"]).unify_dictionaries().combine_chunks()
    if isinstance(coded, pa.ChunkedArray):
        coded = coded.chunk(0) if coded.num_chunks else pa.array([], pa.string()).dictionary_encode()
    homes = [segment_of[s] for s in coded.dictionary.to_pylist()]
    names = sorted(set(homes))
    if len(names) == 1:
        return {names[0]: table}
    number = np.array([names.index(h) for h in homes], np.int64)[coded.indices.to_numpy()]
    ordered = table.take(pa.array(np.argsort(number, kind="stable")))
    counts = np.bincount(number, minlength=len(names))
    starts = np.cumsum(counts) - counts
    return {n: ordered.slice(s, c) for n, s, c in zip(names, starts.tolist(), counts.tolist(), strict=True)}


def rows_by_site(tables: Iterable[pa.Table]) -> dict[str, int]:
    """Return how many rows each site has over several tables."""
    counts: dict[str, int] = {}
    for table in tables:
        if "site" in table.column_names and table.num_rows:
            found = pc.value_counts(table["site"].combine_chunks())
            for site, n in zip(found.field(0).to_pylist(), np.asarray(found.field(1)).tolist(), strict=True):
                counts[site] = counts.get(site, 0) + n
    return counts
