"""Spare from building to building: strands ready, after patching, after splicing, and the cables that bind."""

from __future__ import annotations

import itertools
from collections import defaultdict
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from fibrebook.analyses.spare.spare import fibre_groups
from fibrebook.plant import Network
from fibrebook.plant.strands import free_strands, places_between, strands_between
from fibrebook.records import to_frame
from fibrebook.snapshot.snapshot import network
from fibrebook.words.labels import natural

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

NO_BUILDING = ("", "outdoors", "outside")
COLUMNS = ("site", "here", "there", "direct", "now", "patching", "splicing", "binding", "binding_now")


def spare_routes(reg: Register, site: str, all_pairs: bool = True) -> pd.DataFrame:
    """Count the spare strands between every two buildings of a site.

    A building is what `locations` calls so; a place without one stands for itself; chambers and poles ("outdoors", or
    nothing but joint closures) are passed through, not asked for.

    Parameters
    ----------
    site : label of the site
    all_pairs : every two buildings, or only those that a cable joins directly

    Returns
    -------
    DataFrame, one row a route, those with the fewest strands first: site, here, there (buildings), direct (true where
    a cable joins them without another building between), now (strands ready), patching (with cords inside rooms),
    splicing (with new splices and pigtails), binding (the cables that run out first once spliced), binding_now (those
    that bind today).
    """
    return to_frame(spare_routes_table(network(reg, site), reg.tables(site, ["locations"])["locations"], all_pairs))


def spare_routes_table(net: Network, locations: pa.Table, all_pairs: bool = True) -> pa.Table:
    """As `spare_routes`, as an Arrow table, from the site's network and its locations."""
    enclosures = buildings(net, locations)
    groups = fibre_groups(net.ends.table("cables")["fibre_class"])
    site = net.ends.table("sites")["site"].to_pylist()[0]
    direct = _joined(net, enclosures)
    strands = free_strands(net)
    rows = []
    for here, there in itertools.combinations(sorted(enclosures, key=natural), 2):
        if not all_pairs and frozenset((here, there)) not in direct:
            continue
        places = places_between(net, enclosures[here], enclosures[there])
        found = {level: (count, cables) for level, count, cables in strands_between(net, places, strands, groups)}
        counts = [found[level][0] for level in ("now", "patching", "splicing")]
        binding = [", ".join(found[level][1]) for level in ("splicing", "now")]
        rows.append((site, here, there, frozenset((here, there)) in direct, *counts, *binding))
    rows.sort(key=lambda r: (r[6], r[5], r[4], natural(r[1]), natural(r[2])))
    types = [pa.string()] * 3 + [pa.bool_()] + [pa.int64()] * 3 + [pa.string()] * 2
    columns: list[Any] = list(zip(*rows, strict=True)) if rows else [()] * len(COLUMNS)
    return pa.table({n: pa.array(list(c), t) for n, c, t in zip(COLUMNS, columns, types, strict=True)})


def buildings(net: Network, locations: pa.Table) -> dict[str, frozenset[int]]:
    """Enclosure rows by building; places that hold nothing but joint closures are left out."""
    building = dict(zip(locations["location"].to_pylist(), locations["building"].to_pylist(), strict=True))
    table = net.ends.table("enclosures")
    found: dict[str, set[int]] = defaultdict(set)
    panels: set[str] = set()
    for i, row in enumerate(table.select(["enclosure", "location", "kind"]).to_pylist()):
        place = row["location"] or row["enclosure"]
        name = building.get(place) or ""
        name = place if name.casefold() in NO_BUILDING else name
        found[name].add(i)
        if row["kind"] != "joint closure":
            panels.add(name)
    return {name: frozenset(rows) for name, rows in found.items() if name in panels}


def _joined(net: Network, enclosures: dict[str, frozenset[int]]) -> set[frozenset[str]]:
    """Pairs of buildings that cables join, through closures but through no third building."""
    name_of = {row: name for name, rows in enclosures.items() for row in rows}
    ways: dict[int, set[int]] = defaultdict(set)
    for a, b in zip(*(p.tolist() for p in net.ends.cable_place), strict=True):
        if a >= 0 and b >= 0:
            ways[a].add(b)
            ways[b].add(a)
    pairs = set()
    for name, rows in enclosures.items():
        seen, stack = set(rows), list(rows)
        while stack:
            for there in ways[stack.pop()] - seen:
                seen.add(there)
                other = name_of.get(there)
                if other is None:
                    stack.append(there)
                elif other != name:
                    pairs.add(frozenset((name, other)))
    return pairs
