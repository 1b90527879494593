"""The hard rules: what may never stand in the register. A commit that breaks one is refused whole.

Keys unique; links exist; a core end, a port's rear, a port's front and an interface position each joined at most once;
core number within the cable's count; joints at an enclosure where the cable has an end; no joint to itself; enclosures
and equipment share one set of names; an interface belongs to one channel at most.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import Problem
from fibrebook.records import ends as e
from fibrebook.records.fields import Kind, Link
from fibrebook.records.kinds import BUILT_IN_KINDS, KINDS

Tables = Mapping[str, pa.Table]
MOST = 1000  # problems listed at most: nobody reads more, and a wrong file may break one rule in each row


def check(tables: Tables) -> list[Problem]:
    """Return every breach of a hard rule in whole tables of some sites (cores: only the rows that say something).

    Parameters
    ----------
    tables : by kind, in declared columns; kinds left out count as empty; each site must be there whole

    Returns
    -------
    problems naming table, key, what is wrong and what to do; empty = the rules hold
    """
    out: list[Problem] = []
    for kind in KINDS.values():
        if kind.name in tables:
            out += _unique_keys(kind, tables[kind.name])
    if out:  # with double keys, links cannot be told apart
        return out[:MOST]
    ends = e.Ends(tables)
    for rule in (_sites, _links, _shared_names, _cores, _tube_sizes, _splices, _terminations, _patches, _channels):
        out += rule(ends)
    out += _joined_once(ends)
    return out[:MOST]


def _row(table: pa.Table, i: int) -> dict[str, object]:
    return {k: v[0] for k, v in table.slice(int(i), 1).to_pydict().items()}


def _problem(kind: str, table: pa.Table, i: int, what: str, remedy: str, column: str = "") -> Problem:
    row = _row(table, i)
    key = tuple(row[k] for k in KINDS[kind].key)
    return Problem(f"{kind} {e.key_text(row, KINDS[kind].key)}", what, remedy, kind, key, column, int(i))


def _each(
    ends: e.Ends, kind: str, bad: np.ndarray, tell: Callable[[dict[str, object]], tuple[str, str]], column: str = ""
) -> list[Problem]:
    table = ends.table(kind)
    return [_problem(kind, table, i, *tell(_row(table, i)), column) for i in np.flatnonzero(bad)[:MOST]]


def _unique_keys(kind: Kind, table: pa.Table) -> list[Problem]:
    if table.num_rows < 2:
        return []
    ids = np.zeros(table.num_rows, np.int64)
    for name in kind.key:
        column = table[name]
        codes = e.integers(column) if kind.by_name[name].type == "integer" else e.Labels().ids(column)
        _, ids = np.unique(ids * (codes.max() + 1) + codes, return_inverse=True)
    _, first, count = np.unique(ids, return_index=True, return_counts=True)
    return [
        _problem(kind.name, table, i, f"stands {n} times", "a key may stand once: give the others another label")
        for i, n in zip(first[count > 1], count[count > 1], strict=True)
    ]


def _sites(ends: e.Ends) -> list[Problem]:
    known = e.Index(ends.site_ids("sites"))
    out = []
    for kind in KINDS.values():
        if kind.scope == "site" and kind.name != "sites" and ends.table(kind.name).num_rows:
            bad = known.rows(ends.site_ids(kind.name)) < 0
            out += _each(
                ends,
                kind.name,
                bad,
                lambda r: (f"there is no site {r['site']!r}", "add it to the table 'sites' or mend its spelling"),
                "site",
            )
    return out


def _links(ends: e.Ends) -> list[Problem]:
    out = []
    for kind in KINDS.values():
        if not ends.table(kind.name).num_rows:
            continue
        for link in kind.links:
            out += _link(ends, kind, link)
    return out


def _link(ends: e.Ends, kind: Kind, link: Link) -> list[Problem]:
    table, site = ends.table(kind.name), ends.site_ids(kind.name)
    columns = [table[c] for c in link.columns]
    blank = np.logical_and.reduce([_blank(c) for c in columns])
    if kind.name not in BUILT_IN_KINDS:
        from fibrebook.records import links

        found = links.found(ends, site, table["site"], columns, link)
    elif link.to == ("cores",):
        found = ends.core_ids(site, columns[0], columns[1])[0] >= 0
        if kind.name in ("cores", "splices", "terminations"):
            return []  # told more exactly by the rules on joints
    elif link.to in (("ports",), ("ports", "interfaces")):
        vertex, _ = ends.plug_vertices(site, *columns)
        most = ends.first_plug + (ends.n_ports if link.to == ("ports",) else ends.n_plugs)
        found = (vertex >= 0) & (vertex < most)
    elif link.to == ("interfaces",):
        found = _interface_found(ends, site, columns)
    elif link.to == ("cables",):
        if kind.name == "cores":
            return []  # told with the number by the rule on cores
        found = ends.cable_rows(site, columns[0]) >= 0
    elif link.to in (("locations",), ("tests",)):
        found = _label_found(ends, site, columns[0], link.to[0])
    else:
        found = _place_found(ends, site, columns[0], link.to[0])
    to = " or ".join(KINDS[t].singular for t in link.to)

    def tell(row: dict[str, object]) -> tuple[str, str]:
        name = e.key_text(row, link.columns)
        return f"there is no {to} {name!r} at this site", f"add it to the table {' or '.join(link.to)}, or mend it here"

    return _each(ends, kind.name, ~(found | blank), tell, link.columns[0])


def _blank(column: pa.ChunkedArray) -> np.ndarray:
    if pa.types.is_dictionary(column.type):
        column = column.cast(pa.string())
    none = column.is_null()
    return (pc.or_(none, pc.equal(column, "").fill_null(True)) if pa.types.is_string(column.type) else none).to_numpy()


def _place_found(ends: e.Ends, site: e.Ints, column: pa.ChunkedArray, to: str) -> np.ndarray:
    row = ends.place_rows(site, column)
    return (row >= 0) & ((row < ends.n_enclosures) == (to == "enclosures"))


def _label_found(ends: e.Ends, site: e.Ints, column: pa.ChunkedArray, kind: str) -> np.ndarray:
    """Whether each row names a record of a kind that one label tells within its site."""
    labels = e.Labels()
    own, asked = labels.ids(ends.table(kind)[KINDS[kind].own_key[0]]), labels.ids(column)
    width = len(labels)
    return e.Index(ends.site_ids(kind) * width + own).rows(site * width + asked) >= 0


def _interface_found(ends: e.Ends, site: e.Ints, columns: list[pa.ChunkedArray]) -> np.ndarray:
    own_table = ends.table("interfaces")
    own = ends.interface_ids(ends.site_ids("interfaces"), own_table["equipment"], own_table["interface"])
    return e.Index(own).rows(ends.interface_ids(site, *columns)) >= 0


def _shared_names(ends: e.Ends) -> list[Problem]:
    key = ends.place_site * len(ends.place_labels) + ends.place_label
    both = np.isin(key[: ends.n_enclosures], key[ends.n_enclosures :])
    return _each(
        ends,
        "enclosures",
        both,
        lambda r: ("equipment of this site bears the same name", "they share one set of names: rename one"),
    )


def _cores(ends: e.Ends) -> list[Problem]:
    t = ends.table("cores")
    _, why = ends.core_ids(ends.site_ids("cores"), t["cable"], t["core"])
    return _core_faults(ends, "cores", "cable", "core", why)


def _core_faults(ends: e.Ends, kind: str, cable: str, core: str, why: np.ndarray) -> list[Problem]:
    no_cable = _each(
        ends,
        kind,
        why == e.NO_CABLE,
        lambda r: (
            f"there is no cable {r[cable]!r} at this site",
            "add it to the table 'cables' or mend its label here",
        ),
        cable,
    )
    no_core = _each(
        ends,
        kind,
        why == e.NO_CORE,
        lambda r: (f"cable {r[cable]!r} has no core {r[core]}", "mend the core number, or the cable's core_count"),
        core,
    )
    return no_cable + no_core


def _tube_sizes(ends: e.Ends) -> list[Problem]:
    cables = ends.table("cables")
    given = ~_blank(cables["tube_sizes"])
    bad = np.zeros(len(given), bool)
    for i in np.flatnonzero(given):
        sizes = str(cables["tube_sizes"][int(i)].as_py()).replace(",", " ").split()
        whole = all(s.isdigit() and 0 < int(s) < 10_000 for s in sizes)
        bad[i] = not whole or sum(map(int, sizes)) != ends.core_count[i]
    return _each(
        ends,
        "cables",
        bad,
        lambda r: (
            f"tube_sizes {str(r['tube_sizes'])[:40]!r} do not add up to the core count {r['core_count']}",
            "write the cores of each tube as 12, 12, 6",
        ),
        "tube_sizes",
    )


def _splices(ends: e.Ends) -> list[Problem]:
    a, b = ends.splice_ends
    out = _end_faults(ends, "splices", "a", a.why) + _end_faults(ends, "splices", "b", b.why)
    itself = (a.vertex >= 0) & (a.vertex == b.vertex)
    return out + _each(ends, "splices", itself, lambda r: ("joins a core end to itself", "name the other core end"))


def _terminations(ends: e.Ends) -> list[Problem]:
    return _end_faults(ends, "terminations", "", ends.termination_ends.why)


def _end_faults(ends: e.Ends, kind: str, side: str, why: np.ndarray) -> list[Problem]:
    cable, core, end = (f"{side}_{c}" if side else c for c in ("cable", "core", "end"))
    not_here = _each(
        ends,
        kind,
        why == e.NOT_HERE,
        lambda r: (
            f"cable {r[cable]!r} has no end{' ' + str(r[end]) if r[end] else ''} at enclosure {r['enclosure']!r}",
            "mend the enclosure here, or the cable's a_enclosure and b_enclosure",
        ),
        cable,
    )
    which = _each(
        ends,
        kind,
        why == e.WHICH_END,
        lambda r: (f"cable {r[cable]!r} has both ends at {r['enclosure']!r}", f"say which: write A or B in {end!r}"),
        end,
    )
    return _core_faults(ends, kind, cable, core, why) + not_here + which


def _patches(ends: e.Ends) -> list[Problem]:
    (a, why_a), (b, _) = ends.patch_ends
    itself = (a >= 0) & (a == b)
    out = _each(ends, "patches", itself, lambda r: ("joins a position to itself", "name the other end"))
    blank_a = why_a == e.BLANK
    return out + _each(
        ends,
        "patches",
        blank_a,
        lambda r: ("end a is blank", "write the plugged end in the a columns; only the b end may be loose"),
        "a_at",
    )


def _channels(ends: e.Ends) -> list[Problem]:
    t, site = ends.table("channels"), ends.site_ids("channels")
    a = ends.interface_ids(site, t["a_equipment"], t["a_interface"])
    b = ends.interface_ids(site, t["b_equipment"], t["b_interface"])
    out = _each(
        ends, "channels", (a >= 0) & (a == b), lambda r: ("has the same interface at both ends", "mend one end")
    )
    both = np.concatenate([a, b])
    row = np.tile(np.arange(len(a)), 2)
    pairs = np.unique(np.stack([both, row], 1)[both >= 0], axis=0)
    value, count = np.unique(pairs[:, 0], return_counts=True)
    twice = np.isin(a, value[count > 1]) | np.isin(b, value[count > 1])
    return out + _each(
        ends,
        "channels",
        twice,
        lambda r: ("shares an interface with another channel", "one channel an interface: mend or remove one"),
    )


def _joined_once(ends: e.Ends) -> list[Problem]:
    """Core ends, port rears, port fronts and interface positions: each joined at most once."""
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
    value, count = np.unique(vertex, return_counts=True)
    out = []
    for double in value[count > 1][:MOST]:
        at = np.flatnonzero(vertex == double)
        named = [(uses[source[i]][2], int(row[i])) for i in at]
        kind, i = named[0]
        rows = [(k, _row(ends.table(k), j)) for k, j in named]
        told = [f"{k} {e.key_text(r, KINDS[k].key)}" for k, r in rows]
        what = f"{_thing(ends, int(double))} is joined twice: also by {', '.join(told[1:])}"
        problem = _problem(kind, ends.table(kind), i, what, "remove one of them, or mend what it joins")
        others = tuple((k, tuple(r[n] for n in KINDS[k].key)) for k, r in rows[1:])
        out.append(replace(problem, also=others))
    return out


def _thing(ends: e.Ends, slot: int) -> str:
    vertex, side = divmod(slot, 2)
    if vertex < ends.first_plug:
        core, end = divmod(vertex, 2)
        cable = _row(ends.table("cables"), ends.core_cable[core])["cable"]
        return f"end {'AB'[end]} of core {ends.core_number[core]} of cable {cable}"
    plug = vertex - ends.first_plug
    if plug < ends.n_ports:
        row = _row(ends.table("ports"), plug)
        return f"the {'front' if side else 'rear'} of port {e.key_text(row, ('enclosure', 'port', 'position'))}"
    row = _row(ends.table("interfaces"), plug - ends.n_ports)
    return f"interface {e.key_text(row, ('equipment', 'interface', 'position'))}"
