"""Checks of joints: fibres that do not belong together, end faces that must not meet, cores out of order, loops."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fibrebook.analyses.advice.situation import Advice, Situation
from fibrebook.light.meeting import meeting
from fibrebook.losses.elements import text
from fibrebook.plant.made_off import ports_of_core_ends
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.reference.fibres import core_um_of, mode_of
from fibrebook.words.labels import natural_rank
from fibrebook.words.matching import grouped


def _mismatch(s: Situation, kind: str, rows: Ints, one: Ints, other: Ints) -> Iterator[Advice]:
    """Rows whose two sides are of fibres that do not belong together; sides as numbers of fibre classes."""
    names = s.losses.class_names
    mode = np.array([mode_of(n, values=s.values) or "" for n in names], dtype=object)
    core = np.array([core_um_of(n, values=s.values) or 0.0 for n in names])
    known = (mode[one] != "") & (mode[other] != "")
    modes_differ = known & (mode[one] != mode[other])
    cores_differ = known & ~modes_differ & (core[one] != core[other])
    for mask, check in ((modes_differ, "mode mismatch"), (cores_differ, "core mismatch")):
        hit = np.flatnonzero(mask)
        for i, row in zip(hit, s.rows(kind, rows[hit]), strict=True):
            here, there = names[one[i]], names[other[i]]
            what = f"joins {here} to {there}: {meeting(here, there, values=s.values).words}"
            yield s.advise(check, kind, row, what, "check the records; use fibres of one class on one path")


def fibres_that_differ(s: Situation) -> Iterator[Advice]:
    """Splices, terminations and cords between fibres of different mode or core."""
    e, klass = s.net.ends, s.losses.elements.cable_class
    a, b = (side.vertex for side in e.splice_ends)
    good = np.flatnonzero((a >= 0) & (b >= 0))
    cable = e.core_cable
    yield from _mismatch(s, "splices", good, klass[cable[a[good] // 2]], klass[cable[b[good] // 2]])
    end, (port, _) = e.termination_ends.vertex, e.termination_ports
    good = np.flatnonzero((end >= 0) & (port >= 0))
    own = s.losses.elements.port_class[port[good] - e.first_plug]
    yield from _mismatch(s, "terminations", good, klass[cable[end[good] // 2]], own)
    (pa_, _), (pb, _) = e.patch_ends
    good = np.flatnonzero(s.net.is_port(pa_) & s.net.is_port(pb))
    sides = [s.losses.elements.port_class[p[good] - e.first_plug] for p in (pa_, pb)]
    yield from _mismatch(s, "patches", good, *sides)


def polish_mismatch(s: Situation) -> Iterator[Advice]:
    """A cord between an angled (APC) and a flat (PC, UPC) end face."""
    e = s.net.ends
    polish = text(s.tables["ports"]["polish"])
    (a, _), (b, _) = e.patch_ends
    good = np.flatnonzero(s.net.is_port(a) & s.net.is_port(b))
    one, other = (polish[p[good] - e.first_plug] for p in (a, b))
    bad = (one != "") & (other != "") & ((one == "APC") != (other == "APC"))
    for row, x, y in zip(s.rows("patches", good[bad]), one[bad], other[bad], strict=True):
        what = f"joins a port of {x} polish to one of {y}: angled on flat leaves a gap, spoils faces"
        yield s.advise("polish mismatch", "patches", row, what, "fit a cord with the right polish at each end")


def colour_order_differs(s: Situation) -> Iterator[Advice]:
    """Cores that are made off in another order at end B than at end A.

    A cable all of whose pairs are turned over between its ends is in order too; a pair turned otherwise than the rest
    of its cable is not.
    """
    e = s.net.ends
    at = ports_of_core_ends(s.net)
    a, b = at[0::2], at[1::2]
    core = np.flatnonzero((a >= 0) & (b >= 0))
    if not len(core):
        return
    a, b, place = a[core], b[core], e.plug_place
    port = natural_rank(e.port_labels.texts)[e.port_labels.ids(s.tables["ports"]["port"])]
    position = natural_rank(e.position_labels.texts)[e.position_labels.ids(s.tables["ports"]["position"])]
    _, group = np.unique(np.stack([e.core_cable[core], place[a], place[b]]), axis=1, return_inverse=True)
    group = group.reshape(-1)
    order = _order_in_group(group, port[a], position[a])
    straight = order != _order_in_group(group, port[b], position[b])
    turned = order != _order_in_group(group, port[b], -position[b])
    fewer = np.bincount(group, turned) < np.bincount(group, straight)
    differ = np.where(fewer[group], turned, straight)
    core = core[differ]
    cables, members = grouped(e.core_cable[core])
    for row, own in zip(s.rows("cables", cables), members, strict=True):
        numbers = e.core_number[core[own]].tolist()
        what = f"cores {', '.join(map(str, numbers))} are made off in another order at end B than at end A"
        yield s.advise("colour order differs", "cables", row, what, "check both trays; mend the joint or the record")


def _order_in_group(group: Ints, port: Ints, position: Ints) -> Ints:
    """Place of each port position among those of its group, by port and then by position."""
    order = np.lexsort((position, port, group))
    first = np.searchsorted(group[order], np.arange(group.max() + 1))
    place = np.empty(len(group), np.int64)
    place[order] = np.arange(len(group)) - first[group[order]]
    return place


def loops(s: Situation) -> Iterator[Advice]:
    """A path that closes on itself."""
    vertex = np.flatnonzero(s.net.paths.loops[: s.net.ends.first_plug : 2])
    _, members = grouped(s.net.core_path[vertex])
    for row, own in zip(s.cores(vertex[[m[0] for m in members]]), members, strict=True):
        cables = s.net.ends.core_cable[vertex[own]]
        names = ", ".join(dict.fromkeys(r["cable"] for r in s.rows("cables", cables)))
        what = f"core {row['core']} lies on a path that closes on itself (cables {names})"
        row_of_cable = {"site": row["site"], "cable": row["cable"]}
        yield s.advise("loop", "cables", row_of_cable, what, "one of its splices is recorded wrongly, or made wrongly")
