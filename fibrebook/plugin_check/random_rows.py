"""Random rows: a small plant that obeys the hard rules, and rows of any kind of record, its links leading somewhere."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from random import Random
from typing import Any

from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Column, Kind, Link

Rows = dict[str, list[dict[str, Any]]]
WORDS = ("north", "Höhe 3", "C/7", "behind the lift", "Ø 40", "12", "wet in winter", "a, b; c")
LETTERS = "ABDEFGHJ"
BLANK = 0.3  # share of values that are left out where they may be


def random_plant(rng: Random) -> Rows:
    """Return the rows of two sites with panels, spliced and made-off cables, equipment, cords and a channel each."""
    rows: Rows = {}

    def put(kind: str, /, **row: Any) -> None:
        rows.setdefault(kind, []).append(row)

    for site in ("North yard", "Höhe/2"):
        put("sites", site=site, name=rng.choice(WORDS))
        for place in ("hall", "loft"):
            put("locations", site=site, location=place)
        for panel in ("P1", "P2"):
            put("enclosures", site=site, enclosure=panel, location=rng.choice(("hall", "loft")), kind="rack panel")
            for port in range(1, 5):
                put("ports", site=site, enclosure=panel, port=str(port), position="A", connector="LC")
        for device in ("SW1", "SW2"):
            put("equipment", site=site, equipment=device)
            for position in ("Tx", "Rx"):
                put("interfaces", site=site, equipment=device, interface="1", position=position)
        for cable in ("C1", "C/2"):
            cores = rng.choice((4, 8, 12))
            put("cables", site=site, cable=cable, a_enclosure="P1", b_enclosure="P2", core_count=cores, length_m=70.0)
        for core in range(1, rng.randint(2, 5)):
            for panel, end in (("P1", "A"), ("P2", "B")):
                made_off = {"cable": "C1", "core": core, "end": end}
                put("terminations", site=site, enclosure=panel, port=str(core), position="A", **made_off)
        plugged = {"a_port": "1", "a_position": "A", "b_port": "1", "b_position": "Tx"}
        put("patches", site=site, cord="K1", strand="", a_at="P1", b_at="SW1", **plugged)
        ends = {"a_equipment": "SW1", "a_interface": "1", "b_equipment": "SW2", "b_interface": "1"}
        put("channels", site=site, channel="CH1", **ends)
    return rows


def random_rows(kind: Kind, there: Mapping[str, Sequence[Mapping[str, Any]]], rng: Random, most: int = 12) -> Any:
    """Return random rows of a kind, each with a key of its own; links lead to records that are there.

    Parameters
    ----------
    there : rows of the other kinds, by kind
    most : how many at most; fewer where so many different keys cannot be
    """
    out: dict[tuple[Any, ...], dict[str, Any]] = {}
    sites = [row["site"] for row in there["sites"]] if kind.scope == "site" else [None]
    for n in range(most):
        row = {c.name: _value(c, n, rng) for c in kind.columns if c.name != "site"}
        if kind.scope == "site":
            row["site"] = rng.choice(sites)
        if all(_lead(kind, link, row, there, rng) for link in kind.links):
            out.setdefault(tuple(row.get(k) for k in kind.key), row)
    return list(out.values())


def fill(rows: Rows, kind: str, columns: Sequence[Column], rng: Random) -> None:
    """Put random values into some columns of the rows of a kind."""
    for n, row in enumerate(rows.get(kind, ())):
        row.update({c.name: _value(c, n, rng) for c in columns})


def _value(column: Column, n: int, rng: Random) -> Any:
    if not column.required and rng.random() < BLANK:
        return None
    if column.allowed:
        return rng.choice(column.allowed)
    least = column.minimum if column.minimum is not None else -1000 if column.maximum is None else column.maximum - 99
    most = column.maximum if column.maximum is not None else least + 2000
    if column.type == "integer":
        return rng.randint(int(least), int(most))
    if column.type == "number":
        return round(rng.uniform(least, most), 2)
    if column.type == "date":
        return dt.date(2020, 1, 1) + dt.timedelta(rng.randrange(2000))
    if column.type == "yes/no":
        return rng.random() < 0.5
    return f"{rng.choice(LETTERS)}{n}" if column.type == "label" else f"{rng.choice(WORDS)} {n}"


def _lead(kind: Kind, link: Link, row: dict[str, Any], there: Mapping[str, Any], rng: Random) -> bool:
    """Fill the columns of a link; tell whether that can be: a link that must be given needs something to name."""
    to = rng.choice(link.to)
    source = "cables" if to == "cores" else to
    known = [r for r in there.get(source, ()) if r["site"] == row["site"]]
    needed = any(kind.by_name[c].required for c in link.columns)
    if not known or (not needed and rng.random() < BLANK):
        row.update(dict.fromkeys(link.columns))
        return not needed
    found = rng.choice(known)
    values = {**found, "core": rng.randint(1, found["core_count"])} if to == "cores" else found
    row.update({c: values.get(k) for c, k in zip(link.columns, KINDS[to].own_key, strict=False)})
    return True
