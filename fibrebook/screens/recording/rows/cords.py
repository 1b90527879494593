"""Patch cords: where they can be plugged, the rows of a duplex cord in one go, and what its light then reaches."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pyarrow as pa

from fibrebook.errors import InputError, NotFoundError
from fibrebook.plant import Network
from fibrebook.plant.walk import Step, path_through
from fibrebook.records.references.reference_index import key_text
from fibrebook.screens.recording.rows.readings import next_labels
from fibrebook.snapshot.names import Names
from fibrebook.words.labels import natural

Row = dict[str, Any]
Tables = Mapping[str, pa.Table]
Place = tuple[str, str]  # enclosure or equipment, port or interface
PAIR = {("A", "B"), ("Rx", "Tx")}
USUAL, CROSSED = "the usual cord (A to B)", "a crossed cord (A to A)"


def sockets(tables: Tables) -> dict[str, tuple[Place, list[str]]]:
    """Return where a cord can be plugged: text -> ((at, port), positions still free there), as people sort labels."""
    used = set()
    for row in tables["patches"].select(["a_at", "a_port", "a_position", "b_at", "b_port", "b_position"]).to_pylist():
        for end in "ab":
            used.add((row[f"{end}_at"], row[f"{end}_port"], row[f"{end}_position"] or ""))
    found: dict[Place, list[str]] = {}
    for table, at, port in (("ports", "enclosure", "port"), ("interfaces", "equipment", "interface")):
        for row in tables[table].select([at, port, "position"]).to_pylist():
            free = found.setdefault((row[at], row[port]), [])
            if (row[at], row[port], row["position"] or "") not in used:
                free.append(row["position"] or "")
    places = sorted(found, key=lambda p: (natural(p[0]), natural(p[1])))
    return {f"{at} / {port}": ((at, port), sorted(found[at, port], key=_turn)) for at, port in places}


def _turn(position: str) -> tuple[int, str]:
    return ({"A": 0, "Tx": 0, "B": 1, "Rx": 1}.get(position, 2), position)


def next_cord(tables: Tables) -> str:
    """Return the next cord label by the firm's scheme, else in the site's own way: PC-007 -> PC-008."""
    return next_labels(tables, 1, "patches", "PC")[0]


def cord_rows(
    tables: Tables, site: str, cord: str, a: str, b: str, how: str = USUAL, about: Mapping[str, Any] | None = None
) -> list[Row]:
    """Return the rows of one cord: two strands between two duplex places, one between single positions.

    Parameters
    ----------
    a, b : texts of `sockets`; b "" = the other end is loose
    how : USUAL or CROSSED, for two strands
    about : temporary, length_m, fitted_on

    Raises
    ------
    InputError : no label, no such place, nothing free there, or one end has two fibres and the other one
    """
    if not cord.strip():
        raise InputError("the cord has no label: write what stands on it")
    known = sockets(tables)
    ends: list[tuple[tuple[str, str], list[str]] | None] = []
    for text in (a, b):
        if not text:
            ends.append(None)
            continue
        if text not in known:
            raise InputError(f"there is no port or interface {text!r} at this site: choose one, or add it first")
        place, free = known[text]
        if not free:
            raise InputError(f"{text} is taken already: choose another, or take the cord out first")
        ends.append((place, free))
    if ends[0] is None:
        raise InputError("it is not said where the cord is plugged: choose its first end")
    pairs = _pairs(ends[0][1], ends[1][1] if ends[1] else None, how, a, b)
    rows = []
    for strand, (pa_, pb) in enumerate(pairs, 1):
        row = {"site": site, "cord": cord.strip(), "strand": str(strand), **(about or {})}
        row |= {"a_at": ends[0][0][0], "a_port": ends[0][0][1], "a_position": pa_}
        if ends[1]:
            row |= {"b_at": ends[1][0][0], "b_port": ends[1][0][1], "b_position": pb}
        rows.append(row)
    return rows


def _pairs(a: list[str], b: list[str] | None, how: str, text_a: str, text_b: str) -> list[tuple[str, str | None]]:
    if b is None:
        return [(p, None) for p in a]
    if len(a) != len(b):
        raise InputError(f"{text_a} has {len(a)} position(s) free and {text_b} has {len(b)}: they do not match")
    if len(a) == 2 and tuple(sorted(a)) in PAIR and tuple(sorted(b)) in PAIR:
        # a usual cord turns the pair over: what is A (or Tx) at one end is B (or Rx) at the other
        return list(zip(a, b[::-1] if how == USUAL else b, strict=True))
    return list(zip(a, b, strict=True))


def polarity_words(net: Network, rows: list[Row]) -> list[str]:
    """Return a line a strand: what is joined to what, and what the light reaches at both far ends with the cord in."""
    lines = []
    for row in rows:
        a = key_text(row, ("a_at", "a_port", "a_position"))
        if not row.get("b_at"):
            lines.append(f"strand {row['strand']}: {a}, other end loose")
            continue
        b = key_text(row, ("b_at", "b_port", "b_position"))
        lines.append(f"strand {row['strand']}: {a} to {b}{_reaches(net, row)}")
    return lines


def _reaches(net: Network, row: Row) -> str:
    """Words on both far ends of the path that a strand is in; transmit should meet receive."""
    what = "interface" if row["a_position"] in ("Tx", "Rx", "TxRx") else "port"
    try:
        begin = Names(net).start(row["site"], (what, row["a_at"], row["a_port"], row["a_position"]))
    except NotFoundError:
        return ""  # another row of the same visit is not complete yet
    steps = path_through(net, begin)
    ends = [_named(net, step) for step in (steps[0], steps[-1])]
    words = f"; the whole path runs from {ends[0][0]} to {ends[1][0]}"
    positions = [e[1] for e in ends]
    if sorted(positions) == ["Rx", "Tx"]:
        return f"{words}: transmit reaches receive"
    if positions in (["Tx", "Tx"], ["Rx", "Rx"]):
        return (
            f"{words}: WRONG WAY ROUND, {'transmit meets transmit' if 'Tx' in positions else 'receive meets receive'}"
        )
    return words


def _named(net: Network, step: Step) -> tuple[str, str]:
    """A far end as text, and its position where it is an interface."""
    if step.what == "interface":
        row = net.ends.table("interfaces").slice(step.row, 1).to_pylist()[0]
        return key_text(row, ("equipment", "interface", "position")), row["position"]
    if step.what == "port":
        row = net.ends.table("ports").slice(step.row, 1).to_pylist()[0]
        return f"port {key_text(row, ('enclosure', 'port', 'position'))}", ""
    return ("a loose cord end" if step.what == "loose end" else "a bare core end"), ""
