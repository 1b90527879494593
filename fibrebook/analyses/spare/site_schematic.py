"""What a site's picture shows: buildings with their rooms, enclosures and equipment, and the cables between them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pyarrow as pa

from fibrebook.analyses.spare.spare import spare_counts
from fibrebook.plant import Network
from fibrebook.records import to_frame
from fibrebook.snapshot.snapshot import check_site, network
from fibrebook.words.labels import natural

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

TEXT = pa.string()
PLACES = pa.schema([(n, TEXT) for n in ("premises", "building", "room", "location", "kind", "label", "what")])
CABLES = pa.schema(
    [(n, TEXT) for n in ("cable", "a_enclosure", "b_enclosure", "fibre_class")]
    + [("length_m", pa.float64())]
    + [(n, pa.int64()) for n in ("used", "ready", "spare", "total")]
)


def site_places(reg: Register, site: str) -> pd.DataFrame:
    """Return everything at a site that has a place, building by building.

    Returns
    -------
    DataFrame: premises, building (or the place itself where none is said), room, location, kind ("enclosure" or
    "equipment"; blank for a place with nothing in it), label, what (rack panel, switch...).
    """
    check_site(reg, site)
    return to_frame(places_table(reg.tables(site, ["locations", "enclosures", "equipment"])))


def site_cables(reg: Register, site: str) -> pd.DataFrame:
    """Return a site's cables: cable, a_enclosure, b_enclosure, fibre_class, length_m, used (in service or patched),
    ready, spare, total [cores]."""
    return to_frame(cables_table(network(reg, site)))


def places_table(tables: dict[str, pa.Table]) -> pa.Table:
    """As `site_places`, as an Arrow table, from the site's tables."""
    locations = {r["location"]: r for r in tables["locations"].to_pylist()}
    rows: list[dict[str, Any]] = []
    for kind, table in (("enclosure", tables["enclosures"]), ("equipment", tables["equipment"])):
        for thing in table.to_pylist():
            at = thing["location"] or ""
            rows.append(_place(locations.get(at), at) | {"kind": kind, "label": thing[kind], "what": thing["kind"]})
    taken = {r["location"] for r in rows}
    rows += [_place(row, label) | {"kind": ""} for label, row in locations.items() if label not in taken]
    order = {"enclosure": 0, "equipment": 1, "": 2}
    rows.sort(
        key=lambda r: (natural(r["building"]), natural(r["location"]), order[r["kind"]], natural(r.get("label") or ""))
    )
    return pa.Table.from_pylist(rows, schema=PLACES)


def _place(row: dict[str, Any] | None, label: str) -> dict[str, Any]:
    building = (row or {}).get("building") or ""
    outdoors = building.casefold() in ("", "outdoors", "outside")
    rooms = [building] if building and outdoors else []
    rooms += [text for c in ("room", "rack") if row and (text := row[c])]
    return {
        "premises": row["premises"] if row else None,
        "building": (label or "place not recorded") if outdoors else building,
        "room": ", ".join(rooms),
        "location": label,
    }


def cables_table(net: Network) -> pa.Table:
    """As `site_cables`, as an Arrow table, from the site's network."""
    counts = spare_counts(net, "cable").to_pylist()
    cables = net.ends.table("cables").select(CABLES.names[:5]).to_pylist()
    rows = []
    for cable, count in zip(cables, counts, strict=True):
        used = count["in_service"] + count["patched"]
        rows.append(cable | {"used": used, "ready": count["ready"], "spare": count["spare"], "total": count["total"]})
    rows.sort(key=lambda r: natural(r["cable"]))
    return pa.Table.from_pylist(rows, schema=CABLES)
