"""Whether the links of plugins' records lead anywhere: one way for all of them, by the keys of what they name."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyarrow as pa

from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Link
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.records.references.reference_index import Ends
from fibrebook.words.matching import shared_ids


def found(ends: Ends, site: Ints, sites: pa.ChunkedArray, columns: Sequence[pa.ChunkedArray], link: Link) -> np.ndarray:
    """Tell for each row whether its link names a record of the same site, or the first labels of several.

    Parameters
    ----------
    site, sites : each row's site, as its integer and as its label
    columns : the link's columns
    """
    there = np.zeros(len(site), bool)
    for to in link.to:
        if to == "cores":  # the store holds few of them; the others follow from their cable
            row = ends.cable_rows(site, columns[0])
            there |= row >= 0 if len(columns) == 1 else ends.core_ids(site, columns[0], columns[1])[0] >= 0
            continue
        table, key = ends.table(to), KINDS[to].own_key[: len(columns)]
        named, known = shared_ids([[sites, *columns], [table["site"], *(table[k] for k in key)]])
        there |= np.isin(named, known)
    return there
