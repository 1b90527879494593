"""Labels that people cannot tell apart when they say them: they differ by capitals, spaces or what is not seen."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.analyses.advice.situation import Advice, Situation
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Kind

DO = "if it is one thing, relabel one of them; else give them labels that are told apart when said aloud"


def labels_alike(s: Situation) -> Iterator[Advice]:
    """Records of one kind whose labels differ by capitals, spaces or raised digits alone."""
    for kind in KINDS.values():
        if kind.scope == "site" and s.table(kind.name).num_rows > 1:
            for column in _own_labels(kind):
                yield from _alike(s, kind, column)


def _own_labels(kind: Kind) -> list[str]:
    """The parts of a key that name the record itself, rather than another record."""
    if kind.name == "sites":
        return ["site"]
    others = {c for link in kind.links for c in link.columns}
    return [c for c in kind.own_key if c not in others and kind.by_name[c].type == "label"]


def _alike(s: Situation, kind: Kind, column: str) -> Iterator[Advice]:
    before = list(kind.key[: kind.key.index(column)])
    named = pa.table([_plain(s.table(kind.name)[c]) for c in (*before, column)], names=[*before, column])
    named = named.group_by([*before, column]).aggregate([])
    named = named.append_column("folded", folded(named[column]))
    for row in _several(named, before, column):
        first, *more = sorted(row[f"{column}_list"])
        key = dict.fromkeys(kind.key, "") | {c: row[c] for c in before} | {column: first}
        told = " and ".join(repr(label) for label in (first, *more))
        yield s.advise("labels alike", kind.name, key, f"{told} differ by how they are written", DO)


def _several(named: pa.Table, before: list[str], column: str) -> Iterator[dict[str, Any]]:
    groups = named.group_by([*before, "folded"]).aggregate([(column, "list"), (column, "count")])
    yield from groups.filter(pc.greater(groups[f"{column}_count"], 1)).to_pylist()


def _plain(column: pa.ChunkedArray) -> pa.ChunkedArray:
    text = column.cast(pa.string()) if pa.types.is_dictionary(column.type) else column
    return text.fill_null("") if pa.types.is_string(text.type) else text


def folded(labels: pa.ChunkedArray) -> pa.ChunkedArray:
    """Return labels in small letters, without spaces or what is not seen, raised and wide characters as plain ones."""
    return pc.replace_substring_regex(pc.utf8_lower(pc.utf8_normalize(labels, form="NFKC")), r"[\s\p{Z}\p{C}]+", "")
