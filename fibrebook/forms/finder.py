"""Find anything at a site by its label or a word: cores, ports, equipment, cables, enclosures, cords, channels."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pyarrow as pa

from fibrebook.analyses.trace import colour_words
from fibrebook.plant import Network
from fibrebook.records.ends import key_text
from fibrebook.register.cores import full_cores

Start = tuple[Any, ...]
MOST = 40  # hits shown; who needs more types another letter
# In the order in which equally good hits stand.
ORDER = ("channel", "equipment", "enclosure", "cable", "cord", "port", "interface", "core", "location")
SPOKEN = {
    "core": "core", "cores": "core", "fibre": "core", "port": "port", "ports": "port", "cable": "cable",
    "cord": "cord", "channel": "channel", "interface": "interface", "panel": "enclosure", "enclosure": "enclosure",
    "closure": "enclosure",
}  # fmt: skip


@dataclass(frozen=True)
class Hit:
    """Something found: kind (one of ORDER), its name as read on labels, what else is said of it, and what it starts."""

    kind: str
    name: str
    hint: str
    start: Start

    @property
    def value(self) -> str:
        """The start as text, for a widget's value."""
        return json.dumps(self.start)

    @property
    def shown(self) -> str:
        """Kind and name, as a list shows them."""
        return f"{self.kind} {self.name}"


def start_of(value: str) -> Start:
    """Read a start back from a widget's value."""
    return tuple(json.loads(value))


class Finder:
    """Everything at one site that can be asked for.

    Parameters
    ----------
    tables : the site's rows by kind (plant tables and locations); own_codes : the firm's own colour codes
    """

    def __init__(self, tables: Mapping[str, pa.Table], own_codes: Mapping[str, list[str]]) -> None:
        self.hits: list[Hit] = []
        self._own: list[str] = []  # " label words " of each hit, folded
        self._all: list[str] = []  # the same with the words of its hint
        for hit in _everything(tables, own_codes):
            own = _words(hit.name)
            self.hits.append(hit)
            self._own.append(f" {own} ")
            self._all.append(f" {own} {_words(hit.hint)} ")

    def find(self, typed: str, most: int = MOST) -> list[Hit]:
        """Return what the words may mean, best first: every word begins a word of the label or of what is said of it.

        A kind's name among the words (core, port, cable...) asks for that kind only; where that finds nothing it is
        taken as any other word.
        """
        words = _words(typed).split()
        if not words:
            return []
        kinds = {SPOKEN[w] for w in words if w in SPOKEN}
        bare = [w for w in words if w not in SPOKEN]
        if kinds and bare:
            found = self._matching(bare, kinds, most)
            if found:
                return found
        return self._matching(words, None, most)

    def _matching(self, words: Sequence[str], kinds: set[str] | None, most: int) -> list[Hit]:
        begins = [f" {w}" for w in words]
        whole = f" {' '.join(words)} "
        found = []
        for i, text in enumerate(self._all):
            if kinds and self.hits[i].kind not in kinds:
                continue
            if all(b in text for b in begins):
                own = self._own[i]
                if own == whole:
                    rank = 0
                elif own.startswith(whole):
                    rank = 1
                elif all(f"{b} " in own for b in begins):
                    rank = 2
                elif all(b in own for b in begins):
                    rank = 3
                else:
                    rank = 4
                found.append((rank, ORDER.index(self.hits[i].kind), len(own), i))
        found.sort()
        return [self.hits[i] for *_, i in found[:most]]


def _words(text: object) -> str:
    """Fold for comparing: small letters; slashes, hyphens, commas and blanks part words."""
    folded = str(text).casefold()
    for mark in "/-_,;:()":
        folded = folded.replace(mark, " ")
    return " ".join(folded.split())


def _everything(tables: Mapping[str, pa.Table], own_codes: Mapping[str, list[str]]) -> Iterator[Hit]:
    def rows(kind: str) -> Iterable[dict[str, Any]]:
        return tables[kind].to_pylist() if kind in tables else ()

    location_words = {r["location"]: _said(r, "premises", "building", "room", "rack") for r in rows("locations")}
    for r in rows("channels"):
        ends = [f"{r[f'{e}_equipment']}/{r[f'{e}_interface']}" for e in "ab"]
        hint = ", ".join(filter(None, [_said(r, "purpose", "application"), " to ".join(ends)]))
        yield Hit("channel", r["channel"], hint, ("channel", r["channel"]))
    for kind, columns in (("equipment", ("kind", "label")), ("enclosure", ("kind", "notes"))):
        for r in rows("equipment" if kind == "equipment" else "enclosures"):
            place = [r["location"] or "", location_words.get(r["location"], "")]
            yield Hit(kind, r[kind], ", ".join(filter(None, [_said(r, *columns), *place])), (kind, r[kind]))
    for r in rows("locations"):
        yield Hit("location", r["location"], location_words[r["location"]], ("location", r["location"]))
    for r in rows("cables"):
        way = f"{r['a_enclosure'] or '?'} to {r['b_enclosure'] or '?'}, {r['core_count']} cores"
        hint = ", ".join(filter(None, [way, _said(r, "fibre_class", "sheath", "route", "notes")]))
        yield Hit("cable", r["cable"], hint, ("cable", r["cable"]))
    yield from _plugs(tables)
    yield from _cores(tables, own_codes)


def _plugs(tables: Mapping[str, pa.Table]) -> Iterator[Hit]:
    behind: dict[tuple[Any, ...], str] = {
        (r["enclosure"], r["port"], r["position"]): f"{r['cable']} core {r['core']}"
        for r in tables["terminations"].to_pylist()
    }
    cords: dict[str, str] = {}
    plugged: dict[tuple[Any, ...], str] = {}
    for r in tables["patches"].to_pylist():
        ends = [key_text(r, (f"{e}_at", f"{e}_port", f"{e}_position")) for e in "ab"]
        cords.setdefault(r["cord"], f"{ends[0] or 'loose'} to {ends[1] or 'loose end'}")
        for e, other in (("a", ends[1]), ("b", ends[0])):
            plugged[(r[f"{e}_at"], r[f"{e}_port"], r[f"{e}_position"])] = f"{r['cord']} to {other or 'loose end'}"
    for cord, hint in cords.items():
        yield Hit("cord", cord, hint, ("cord", cord))
    for table, columns, kind in (
        ("ports", ("enclosure", "port", "position"), "port"),
        ("interfaces", ("equipment", "interface", "position"), "interface"),
    ):
        for r in tables[table].to_pylist():
            key = tuple(r[c] or "" for c in columns)
            hint = ", ".join(filter(None, [behind.get(key), plugged.get(key), r.get("application")]))
            yield Hit(kind, key_text(r, columns), hint, (kind, *key))


def _cores(tables: Mapping[str, pa.Table], own_codes: Mapping[str, list[str]]) -> Iterator[Hit]:
    cores = full_cores(tables["cables"], tables["cores"], dict(own_codes))
    for r in cores.to_pylist():
        hint = ", ".join(filter(None, [colour_words(r), _said(r, "reserved_for", "notes", "condition")]))
        yield Hit("core", f"{r['cable']}/{r['core']}", hint, ("core", r["cable"], r["core"]))


def _said(row: Mapping[str, Any], *columns: str) -> str:
    return ", ".join(str(row[c]) for c in columns if row.get(c))


def path_start(net: Network, start: Start) -> Start | None:
    """Return the start of a path that stands for a thing: a channel's sending end, a cord's first strand; else None."""
    kind = start[0]
    if kind in ("core", "port", "interface"):
        return start
    if kind == "channel":
        row = next((r for r in net.ends.table("channels").to_pylist() if r["channel"] == start[1]), None)
        if row is None:
            return None
        face = (row["a_equipment"], row["a_interface"])
        there = [r for r in net.ends.table("interfaces").to_pylist() if (r["equipment"], r["interface"]) == face]
        there.sort(key=lambda r: ("Tx", "TxRx", "Rx").index(r["position"]))
        return ("interface", *face, there[0]["position"]) if there else None
    if kind == "cord":
        row = next((r for r in net.ends.table("patches").to_pylist() if r["cord"] == start[1] and r["a_at"]), None)
        if row is None:
            return None
        faces = set(net.ends.table("equipment")["equipment"].to_pylist())
        what = "interface" if row["a_at"] in faces else "port"
        return (what, row["a_at"], row["a_port"], row["a_position"] or "")
    return None
