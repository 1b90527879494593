"""One path, element by element, for a screen or a sheet: a slice of the same network that answers for all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from fibrebook.errors import NotFoundError
from fibrebook.plant.network import JOINTS, Network
from fibrebook.records import as_label
from fibrebook.records.references.reference_index import key_text
from fibrebook.words.labels import natural, whole_number
from fibrebook.words.nearest import did_you_mean


@dataclass(frozen=True)
class Step:
    """One element of a path: a vertex (interface, port, core end, loose end) or the joint to the next one.

    what : "interface", "port", "core end", "loose end", or a joint: "core", "splice", "termination", "patch"
    row : its row in that table (core: number of the core in the register; core end: its vertex)
    forward : for a joint, whether it is passed from its a side to its b side
    vertex : the vertex itself, or the one that the joint leads to
    """

    what: str
    row: int
    vertex: int
    forward: bool = True


@dataclass(frozen=True)
class Start:
    """Where a trace starts: the vertex, and the slot by which its first far end is looked for."""

    vertex: int
    slot: int
    text: str


def start_at(net: Network, site: str, start: Sequence[object]) -> Start:
    """Find what a start names: ("port", enclosure, port, position), ("core", cable, core) or
    ("interface", equipment, interface, position). A position may be left out where there is only one.

    Raises NotFoundError that names what is there instead.
    """
    what, *rest = start
    names = [as_label(r) if r is not None else "" for r in rest]
    if what == "core" and len(names) == 2:
        return _core_start(net, site, *names)
    if what in ("port", "interface") and len(names) in (2, 3):
        return _plug_start(net, site, str(what), names)
    raise NotFoundError(
        f"{start!r} is no start: give ('core', cable, core), ('port', enclosure, port, position) "
        f"or ('interface', equipment, interface, position)"
    )


def _core_start(net: Network, site: str, cable: str, core: str) -> Start:
    e = net.ends
    rows = e.cable_rows(e.site_labels.ids(pa.array([site])), pa.array([cable]))
    if rows[0] < 0:
        raise NotFoundError(f"site {site!r} has no cable {cable!r}; {_near(cable, e.table('cables')['cable'])}")
    count = int(e.core_count[rows[0]])
    number = whole_number(core)
    if number is None or not 1 <= number <= count:
        raise NotFoundError(f"cable {cable!r} has no core {core!r}: its cores are 1 to {count}")
    return Start(2 * int(e.first_core[rows[0]] + number - 1), 1, f"core {number} of cable {cable}")


def _plug_start(net: Network, site: str, what: str, names: list[str]) -> Start:
    table = net.ends.table(what + "s")
    columns = ("enclosure", "port", "position") if what == "port" else ("equipment", "interface", "position")
    wanted = {"site": site, **dict(zip(columns, names, strict=False))}
    hit = np.ones(table.num_rows, bool)
    for column, label in wanted.items():
        hit &= np.array([v == label for v in table[column].to_pylist()], bool)
        if not hit.any():
            raise NotFoundError(f"site {site!r} has no {what} {'/'.join(names)!r}; {_near(label, table[column])}")
    rows = np.flatnonzero(hit)
    if len(rows) > 1:
        there = ", ".join(repr(table["position"][int(i)].as_py()) for i in rows)
        raise NotFoundError(f"{what} {'/'.join(names)!r} has the positions {there}: say which")
    first = net.ends.first_plug if what == "port" else net.first_interface
    text = key_text({k: table[k][int(rows[0])].as_py() for k in columns}, columns)
    # from an interface the path is told outward; from a port, from what is plugged in front
    return Start(first + int(rows[0]), 0 if what == "interface" else 1, f"{what} {text}")


def _near(label: str, column: pa.ChunkedArray) -> str:
    return did_you_mean(label, sorted({str(v) for v in column.unique().to_pylist() if v}, key=natural))


def path_through(net: Network, start: Start) -> list[Step]:
    """Return the elements of the path through a start, in order from one far end to the other.

    On a loop it goes round once, from the start to the start.
    """
    if net.paths.loops[start.vertex]:
        first = 2 * start.vertex + start.slot
    else:
        first = int(net.paths.final[2 * start.vertex + start.slot]) ^ 1
    return list(_steps(net, first))


def _steps(net: Network, dart: int) -> Iterator[Step]:
    j = net.joints
    ordered, order = net.ordered_slots
    begin = dart >> 1
    yield _vertex_step(net, begin)
    while True:
        at = int(np.searchsorted(ordered, dart))
        if at == len(ordered) or ordered[at] != dart:
            return
        joint, forward = int(order[at]) % len(j), int(order[at]) < len(j)
        landed = int(j.v[joint] if forward else j.u[joint])
        yield Step(JOINTS[j.what[joint]], int(j.row[joint]), landed >> 1, forward)
        if landed >> 1 == begin:
            return
        yield _vertex_step(net, landed >> 1)
        dart = landed ^ 1


def _vertex_step(net: Network, vertex: int) -> Step:
    if vertex < net.ends.first_plug:
        return Step("core end", vertex, vertex)
    if vertex < net.first_interface:
        return Step("port", vertex - net.ends.first_plug, vertex)
    if vertex < net.first_loose:
        return Step("interface", vertex - net.first_interface, vertex)
    return Step("loose end", int(net.loose_rows[vertex - net.first_loose]), vertex)
