"""What a vertex is, in labels: structured columns and readable text, for any number of vertices at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.plant.network import Flags, Network
from fibrebook.records.references.labels_as_numbers import Ints, Labels

KINDS = ("interface", "port", "core end", "loose end", "loop")
INTERFACE, PORT, CORE_END, LOOSE_END, LOOP = range(5)


@dataclass(frozen=True)
class Described:
    """Vertices in words: kind (one of KINDS), at, port, position, and the text 'at/port/position'."""

    kind: pa.Array
    at: pa.Array
    port: pa.Array
    position: pa.Array
    text: pa.Array


def vertex_kind(net: Network, vertex: Ints, looped: Flags) -> np.ndarray:
    """Code into KINDS of each vertex."""
    kind = np.full(len(vertex), CORE_END, np.int64)
    kind[net.is_port(vertex)] = PORT
    kind[net.is_interface(vertex)] = INTERFACE
    kind[vertex >= net.first_loose] = LOOSE_END
    kind[looped] = LOOP
    return kind


def describe(net: Network, vertex: Ints, looped: Flags) -> Described:
    """Name each vertex: an interface or port by place, port, position; a bare core end by cable, core, end;
    a loose cord end by cord and strand; a loop by that word alone."""
    kind = vertex_kind(net, vertex, looped)
    at, port, position = (np.zeros(len(vertex), np.int64) for _ in range(3))
    pools = [Labels(), Labels(), Labels()]
    for code, name in ((PORT, _plugs), (INTERFACE, _plugs), (CORE_END, _core_ends), (LOOSE_END, _loose)):
        here = np.flatnonzero(kind == code)
        if len(here):
            columns = name(net, vertex[here])
            for ids, pool, column in zip((at, port, position), pools, columns, strict=True):
                ids[here] = pool.ids(column)
    at_text, port_text, position_text = (
        pa.DictionaryArray.from_arrays(pa.array(ids.astype(np.int32)), pa.array(pool.texts, pa.string()))
        for ids, pool in zip((at, port, position), pools, strict=True)
    )
    return Described(
        pa.DictionaryArray.from_arrays(pa.array(kind.astype(np.int32)), pa.array(KINDS)),
        at_text,
        port_text,
        position_text,
        _joined(kind, at_text, port_text, position_text),
    )


def _joined(kind: np.ndarray, at: pa.Array, port: pa.Array, position: pa.Array) -> pa.Array:
    at, port, position = (c.cast(pa.string()) for c in (at, port, position))
    text = pc.binary_join_element_wise(at, port, "/")
    text = pc.if_else(pc.equal(position, ""), text, pc.binary_join_element_wise(text, position, "/"))
    return pc.if_else(pa.array(kind == LOOP), "loop", text)


def _taken(table: pa.Table, column: str, rows: Ints) -> pa.Array:
    taken = table[column].take(pa.array(rows))
    return taken.combine_chunks() if isinstance(taken, pa.ChunkedArray) and taken.num_chunks != 1 else taken


def _plugs(net: Network, vertex: Ints) -> tuple[pa.Array, pa.Array, pa.Array]:
    row = vertex - net.ends.first_plug
    if row[0] < net.ends.n_ports:
        table, names = net.ends.table("ports"), ("enclosure", "port", "position")
    else:
        table, names, row = net.ends.table("interfaces"), ("equipment", "interface", "position"), row - net.ends.n_ports
    return tuple(_taken(table, n, row) for n in names)


def _core_ends(net: Network, vertex: Ints) -> tuple[pa.Array, pa.Array, pa.Array]:
    core = vertex // 2
    cable = _taken(net.ends.table("cables"), "cable", net.ends.core_cable[core])
    number = numbers_as_text(net.ends.core_number[core])
    end = pa.DictionaryArray.from_arrays(pa.array((vertex % 2).astype(np.int32)), pa.array(["A", "B"]))
    return cable, number, end


def _loose(net: Network, vertex: Ints) -> tuple[pa.Array, pa.Array, pa.Array]:
    patches, row = net.ends.table("patches"), net.loose_rows[vertex - net.first_loose]
    blank = pa.array([""] * len(row), pa.string())
    return _taken(patches, "cord", row), _taken(patches, "strand", row), blank


def numbers_as_text(numbers: Ints) -> pa.DictionaryArray:
    """Small whole numbers as dictionary-encoded text (each number is written once)."""
    most = int(numbers.max(initial=0))
    return pa.DictionaryArray.from_arrays(
        pa.array(numbers.astype(np.int32)), pa.array([str(i) for i in range(most + 1)], pa.string())
    )
