"""What a record names is there, at the same site."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pyarrow as pa

from fibrebook.errors import Problem
from fibrebook.records.kinds.built_in import BUILT_IN_KINDS, KINDS
from fibrebook.records.kinds.declared import Kind, Link
from fibrebook.records.references.labels_as_numbers import Index, Ints, Labels
from fibrebook.records.references.reference_index import Ends, key_text
from fibrebook.records.rules import links
from fibrebook.records.rules.breach import Judged, Records, Row, blank, each


def links_lead(tables: Judged) -> Iterator[Problem]:
    """Name each record that names another which is not there."""
    ends = tables.ends
    for kind in KINDS.values():
        if not ends.table(kind.name).num_rows:
            continue
        for link in kind.links:
            yield from _link(ends, kind, link)


def _link(ends: Ends, kind: Kind, link: Link) -> Iterator[Problem]:
    table, site = ends.table(kind.name), ends.site_ids(kind.name)
    columns = [table[c] for c in link.columns]
    nothing = np.logical_and.reduce([blank(c) for c in columns])
    if kind.name not in BUILT_IN_KINDS:
        found = links.found(ends, site, table["site"], columns, link)
    elif link.to == ("cores",):
        found = ends.core_ids(site, columns[0], columns[1])[0] >= 0
        if kind.name in ("cores", "splices", "terminations"):
            return  # told more exactly by the rules on joints
    elif link.to in (("ports",), ("ports", "interfaces")):
        vertex, _ = ends.plug_vertices(site, *columns)
        most = ends.first_plug + (ends.n_ports if link.to == ("ports",) else ends.n_plugs)
        found = (vertex >= 0) & (vertex < most)
    elif link.to == ("interfaces",):
        found = _interface_found(ends, site, columns)
    elif link.to == ("cables",):
        if kind.name == "cores":
            return  # told with the number by the rule on cores
        found = ends.cable_rows(site, columns[0]) >= 0
    elif link.to in (("locations",), ("tests",)):
        found = _label_found(ends, site, columns[0], link.to[0])
    else:
        found = _place_found(ends, site, columns[0], link.to[0])
    to = " or ".join(KINDS[t].singular for t in link.to)

    def tell(row: Row) -> tuple[str, str]:
        name = key_text(row, link.columns)
        return f"there is no {to} {name!r} at this site", f"add it to the table {' or '.join(link.to)}, or mend it here"

    def lacking(row: Row) -> Records:
        return tuple((t, (row["site"], *(row[c] for c in link.columns))) for t in link.to)

    yield from each(ends, kind.name, ~(found | nothing), tell, link.columns[0], lacking)


def _place_found(ends: Ends, site: Ints, column: pa.ChunkedArray, to: str) -> np.ndarray:
    row = ends.place_rows(site, column)
    found: np.ndarray = (row >= 0) & ((row < ends.n_enclosures) == (to == "enclosures"))
    return found


def _label_found(ends: Ends, site: Ints, column: pa.ChunkedArray, kind: str) -> np.ndarray:
    """Whether each row names a record of a kind that one label tells within its site."""
    labels = Labels()
    own, asked = labels.ids(ends.table(kind)[KINDS[kind].own_key[0]]), labels.ids(column)
    width = len(labels)
    return Index(ends.site_ids(kind) * width + own).rows(site * width + asked) >= 0


def _interface_found(ends: Ends, site: Ints, columns: list[pa.ChunkedArray]) -> np.ndarray:
    own_table = ends.table("interfaces")
    own = ends.interface_ids(ends.site_ids("interfaces"), own_table["equipment"], own_table["interface"])
    return Index(own).rows(ends.interface_ids(site, *columns)) >= 0
