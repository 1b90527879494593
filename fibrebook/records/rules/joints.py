"""Joints: none to itself, and each thing joined at most once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fibrebook.errors import Problem
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.references.reference_index import BLANK, Ends, key_text
from fibrebook.records.rules.breach import Judged, each, one_row, problem
from fibrebook.records.rules.cores import end_faults


def splices_fit(tables: Judged) -> Iterator[Problem]:
    """Name each splice of a core end that is not at its enclosure, or of an end to itself."""
    ends = tables.ends
    a, b = ends.splice_ends
    yield from end_faults(ends, "splices", "a", a.why)
    yield from end_faults(ends, "splices", "b", b.why)
    itself = (a.vertex >= 0) & (a.vertex == b.vertex)
    yield from each(ends, "splices", itself, lambda r: ("joins a core end to itself", "name the other core end"))


def terminations_fit(tables: Judged) -> Iterator[Problem]:
    """Name each termination of a core end that is not at its enclosure."""
    yield from end_faults(tables.ends, "terminations", "", tables.ends.termination_ends.why)


def cords_fit(tables: Judged) -> Iterator[Problem]:
    """Name each cord from a position to itself, and each whose end a is blank."""
    ends = tables.ends
    (a, why_a), (b, _) = ends.patch_ends
    itself = (a >= 0) & (a == b)
    yield from each(ends, "patches", itself, lambda r: ("joins a position to itself", "name the other end"))
    blank_a = why_a == BLANK
    yield from each(
        ends,
        "patches",
        blank_a,
        lambda r: ("end a is blank", "write the plugged end in the a columns; only the b end may be loose"),
        "a_at",
    )


def channels_apart(tables: Judged) -> Iterator[Problem]:
    """Name each channel from an interface to itself, and each that shares one with another."""
    ends = tables.ends
    t, site = ends.table("channels"), ends.site_ids("channels")
    a = ends.interface_ids(site, t["a_equipment"], t["a_interface"])
    b = ends.interface_ids(site, t["b_equipment"], t["b_interface"])
    yield from each(
        ends, "channels", (a >= 0) & (a == b), lambda r: ("has the same interface at both ends", "mend one end")
    )
    both = np.concatenate([a, b])
    row = np.tile(np.arange(len(a)), 2)
    pairs = np.unique(np.stack([both, row], 1)[both >= 0], axis=0)
    value, count = np.unique(pairs[:, 0], return_counts=True)
    twice = np.isin(a, value[count > 1]) | np.isin(b, value[count > 1])
    yield from each(
        ends,
        "channels",
        twice,
        lambda r: ("shares an interface with another channel", "one channel an interface: mend or remove one"),
    )


def joined_once(tables: Judged) -> Iterator[Problem]:
    """Name each core end, port rear, port front and interface position that is joined more than once."""
    ends = tables.ends
    sa, sb = ends.splice_ends
    ports, _ = ends.termination_ports
    (pa_, _), (pb, _) = ends.patch_ends
    uses = [  # (vertex, slot: 1 core end or front, 0 rear), which table, which row
        (sa.vertex, 1, "splices"),
        (sb.vertex, 1, "splices"),
        (ends.termination_ends.vertex, 1, "terminations"),
        (ports, 0, "terminations"),
        (pa_, 1, "patches"),
        (pb, 1, "patches"),
    ]
    vertex = np.concatenate([2 * v + slot for v, slot, _ in uses])
    source = np.repeat(np.arange(len(uses)), [len(v) for v, _, _ in uses])
    row = np.concatenate([np.arange(len(v)) for v, _, _ in uses])
    real = vertex >= 0
    vertex, source, row = vertex[real], source[real], row[real]
    order = np.argsort(vertex, kind="stable")
    value, first, count = np.unique(vertex[order], return_index=True, return_counts=True)
    for double, start, n in zip(value[count > 1], first[count > 1], count[count > 1], strict=True):
        named = [(uses[source[i]][2], int(row[i])) for i in order[start : start + n]]
        rows = [(k, one_row(ends.table(k), j)) for k, j in named]
        told = [f"{k} {key_text(r, KINDS[k].key)}" for k, r in rows]
        thing = f"{_thing(ends, int(double))} is joined twice"
        what = f"{thing}: also by {', '.join(told[1:])}"
        found = problem(*rows[0], named[0][1], what, "remove one of them, or mend what it joins")
        others = tuple((k, tuple(r[n] for n in KINDS[k].key)) for k, r in rows[1:])
        yield replace(found, also=others, breach=thing)


def _thing(ends: Ends, slot: int) -> str:
    vertex, side = divmod(slot, 2)
    if vertex < ends.first_plug:
        core, end = divmod(vertex, 2)
        cable = one_row(ends.table("cables"), ends.core_cable[core])["cable"]
        return f"end {'AB'[end]} of core {ends.core_number[core]} of cable {cable}"
    plug = vertex - ends.first_plug
    if plug < ends.n_ports:
        row = one_row(ends.table("ports"), plug)
        return f"the {'front' if side else 'rear'} of port {key_text(row, ('enclosure', 'port', 'position'))}"
    row = one_row(ends.table("interfaces"), plug - ends.n_ports)
    return f"interface {key_text(row, ('equipment', 'interface', 'position'))}"
