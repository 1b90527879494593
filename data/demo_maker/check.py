"""Checks the rows of the demo against the hard rules of a register, on its own and row by row."""

from __future__ import annotations

from collections import Counter
from typing import Any

from demo_maker.columns import ALLOWED, KEYS, NUMBERS
from demo_maker.rows import Row, Site


def key_of(table: str, row: Row) -> tuple[Any, ...]:
    """Give a row's key, blanks as empty text."""
    return tuple("" if row.get(c) is None else row.get(c) for c in KEYS[table])


def links(table: str, row: Row) -> list[tuple[str, tuple[Any, ...]]]:
    """Give every (table, key) that a row names."""
    s = row["site"]
    found: list[tuple[str, tuple[Any, ...]]] = [] if table == "sites" else [("sites", (s,))]
    if table in ("enclosures", "equipment"):
        found.append(("locations", (s, row["location"])))
    if table in ("ports", "splices"):
        found.append(("enclosures", (s, row["enclosure"])))
    if table == "cables":
        found += [("enclosures", (s, row[c])) for c in ("a_enclosure", "b_enclosure")]
    if table == "cores" or (table == "tests" and row.get("cable")):
        found.append(("cables", (s, row["cable"])))
    if table == "splices":
        found += [("cables", (s, row[c])) for c in ("a_cable", "b_cable")]
    if table == "terminations":
        found += [("ports", key_of(table, row)), ("cables", (s, row["cable"]))]
    if table == "events":
        found.append(("tests", (s, row["test"])))
    if table == "interfaces":
        found.append(("equipment", (s, row["equipment"])))
    return found


def problems(sites: list[Site]) -> list[str]:
    """List every broken hard rule of all sites together, empty when the rows are right."""
    rows = {table: [r for site in sites for r in site.tables[table]] for table in KEYS}
    keys = {table: Counter(key_of(table, r) for r in rows[table]) for table in KEYS}
    out = [f"{t} {k}: key used {n} times" for t in KEYS for k, n in keys[t].items() if n > 1]
    for table, its_rows in rows.items():
        for row in its_rows:
            out += [f"{table} {key_of(table, row)}: no {t} {k}" for t, k in links(table, row) if k not in keys[t]]
            out += wrong_values(table, row)
    out += [f"name {k} is both enclosure and equipment" for k in keys["enclosures"] if k in keys["equipment"]]
    for site in sites:
        out += joined_twice(site)
        out += channel_problems(site)
        out += test_problems(site)
    return out


def wrong_values(table: str, row: Row) -> list[str]:
    """List values outside the allowed words, labels that are not text and numbers that are not."""
    out = []
    for column, value in row.items():
        allowed = ALLOWED.get((table, column))
        if allowed and value not in allowed and value is not None:
            out.append(f"{table} {key_of(table, row)}: {column} is {value!r}")
        if column in NUMBERS and isinstance(value, str):
            out.append(f"{table} {key_of(table, row)}: {column} should be a number")
    if table == "cables" and row.get("tube_sizes"):
        sizes = [int(x) for x in row["tube_sizes"].split(",")]
        if sum(sizes) != row["core_count"]:
            out.append(f"cables {key_of(table, row)}: tube sizes make {sum(sizes)}")
    return out


def core_end(site: Site, cable: str, core: int, end: str, enclosure: str, what: str) -> tuple[Any, list[str]]:
    """Settle which core end a joint takes and whether it may: number in count, cable end present."""
    row = site.cables[cable]
    here = [e for e in "AB" if row[f"{e.lower()}_enclosure"] == enclosure]
    wrong = []
    if not 1 <= core <= row["core_count"]:
        wrong.append(f"{what}: core {core} outside 1..{row['core_count']}")
    if not here or (end and end not in here) or (len(here) == 2 and not end):
        wrong.append(f"{what}: cable {cable} end {end or '?'} is not at {enclosure}")
    return ("core", cable, core, end or "".join(here)), wrong


def joined_twice(site: Site) -> list[str]:
    """List core ends, port sides and interface positions used more than once, and self-joints."""
    used: Counter[Any] = Counter()
    out = []
    for row in site.tables["splices"]:
        what = f"splices {key_of('splices', row)}"
        ends = []
        for side in "ab":
            end, wrong = core_end(
                site, row[f"{side}_cable"], row[f"{side}_core"], row[f"{side}_end"], row["enclosure"], what
            )
            ends.append(end)
            out += wrong
            used[end] += 1
        if ends[0] == ends[1]:
            out.append(f"{what}: joined to itself")
    for row in site.tables["terminations"]:
        what = f"terminations {key_of('terminations', row)}"
        end, wrong = core_end(site, row["cable"], row["core"], row["end"], row["enclosure"], what)
        out += wrong
        used[end] += 1
        used[("rear", *key_of("terminations", row)[1:])] += 1
    fronts = {key_of("ports", r)[1:] for r in site.tables["ports"]}
    fronts |= {key_of("interfaces", r)[1:] for r in site.tables["interfaces"]}
    for row in site.tables["patches"]:
        ends = [(row[f"{s}_at"], row[f"{s}_port"], row[f"{s}_position"]) for s in "ab"]
        for end in ends:
            if end == ("", "", "") and end is not ends[0]:
                continue
            used[("front", *end)] += 1
            if end not in fronts:
                out.append(f"{site.site} patches {row['cord']}: nothing called {end}")
        if ends[0] == ends[1]:
            out.append(f"{site.site} patches {row['cord']}: joined to itself")
    for row in site.tables["cores"]:
        if not 1 <= row["core"] <= site.cables[row["cable"]]["core_count"]:
            out.append(f"cores {key_of('cores', row)}: outside the cable's count")
    return out + [f"{site.site}: {thing} joined {n} times" for thing, n in used.items() if n > 1]


def channel_problems(site: Site) -> list[str]:
    """List interfaces that are missing or belong to two channels."""
    have = {(r["equipment"], r["interface"]) for r in site.tables["interfaces"]}
    uses = Counter((r[f"{s}_equipment"], r[f"{s}_interface"]) for r in site.tables["channels"] for s in "ab")
    out = [f"{site.site}: channel interface {k} does not exist" for k in uses if k not in have]
    return out + [f"{site.site}: interface {k} belongs to {n} channels" for k, n in uses.items() if n > 1]


def test_problems(site: Site) -> list[str]:
    """List tests from or to a port that does not exist, or on a core outside the cable."""
    ports = {key_of("ports", r)[1:] for r in site.tables["ports"]}
    ports |= {key_of("interfaces", r)[1:] for r in site.tables["interfaces"]}
    out = []
    for row in site.tables["tests"]:
        for side in ("from", "to"):
            end = tuple(row.get(f"{side}_{c}", "") for c in ("at", "port", "position"))
            if end != ("", "", "") and end not in ports:
                out.append(f"{site.site} test {row['test']}: nothing called {end}")
        if row.get("cable") and not 1 <= row["core"] <= site.cables[row["cable"]]["core_count"]:
            out.append(f"{site.site} test {row['test']}: core outside the cable")
    return out
