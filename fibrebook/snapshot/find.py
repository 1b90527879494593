"""Find anything at a site by its label or a word: cores, ports, equipment, cables, enclosures, cords, channels."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import pyarrow as pa

from fibrebook.plant import Network
from fibrebook.records.references.reference_index import key_text
from fibrebook.snapshot.colours_in_words import colour_words
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.snapshot.things import SPOKEN
from fibrebook.words.spelling import parted

Start = tuple[Any, ...]
MOST = 40  # hits shown; who needs more types another letter
# In the order in which equally good hits stand.
ORDER = ("channel", "equipment", "enclosure", "cable", "cord", "port", "interface", "core", "location", "snag", "visit")
NAMED = ("channel", "equipment", "enclosure", "cable", "cord", "port", "interface", "core", "location")


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
    seen : the site; more : further kinds that are to be found, of snags and visits
    """

    def __init__(self, seen: PlantSnapshot, more: Sequence[str] = ()) -> None:
        self.hits: list[Hit] = []
        self._own: list[str] = []  # " label words " of each hit, folded
        self._all: list[str] = []  # the same with the words of its hint
        for hit in _everything(seen, more):
            own = folded_words(hit.name)
            self.hits.append(hit)
            self._own.append(f" {own} ")
            self._all.append(f" {own} {folded_words(hit.hint)} ")
        self._spoken = seen.spoken
        self._site, self._names = seen.site or "", seen.names
        self._names.make_ready(NAMED)
        self._at = {(hit.kind, *(str(part) for part in hit.start[1:])): hit for hit in self.hits}

    @cached_property
    def vocabulary(self) -> set[str]:
        """Every word that may be found."""
        return {word for text in self._all for word in text.split()}

    def find(self, typed: str, most: int = MOST) -> list[Hit]:
        """Return what the words may mean, best first: every word begins a word of the label or of what is said of it.

        A kind's name among the words (core, port, cable...) asks for that kind only; where that finds nothing it is
        taken as any other word. A colour with a number ("orange 7") asks for cores, see `SpokenNames`.
        """
        return [hit for _, hit in self.ranked(typed)[:most]]

    def ranked(self, typed: str) -> list[tuple[int, Hit]]:
        """Return all of it as (rank, hit): 0 = the very label, to 4 = among what is said of it."""
        words = folded_words(typed).split()
        if not words:
            return []
        kinds = {SPOKEN[w] for w in words if w in SPOKEN}
        bare = [w for w in words if w not in SPOKEN]
        found = self._matching(bare, kinds) if kinds and bare else []
        found = found or self._matching(words, None)
        once: dict[Start, tuple[int, Hit]] = {}
        for rank, hit in (*self._called(typed), *self._as_spoken(words), *found):
            once.setdefault(hit.start, (rank, hit))
        return list(once.values())

    def _called(self, typed: str) -> list[tuple[int, Hit]]:
        """Return what is called so: the very things that `which` and `trace` would take the words for."""
        meant = self._names.meant(self._site, typed, NAMED)
        hits = [self._at[f.start] for f in meant if f.start in self._at]
        return [(0, hit) for hit in sorted(hits, key=lambda hit: ORDER.index(hit.kind))]

    def _as_spoken(self, words: Sequence[str]) -> list[tuple[int, Hit]]:
        """Return what people call so, though no label is: cores by a colour and a number, and what plugins know."""
        called = [(self._at.get((c.sort, *c.key)), c.why) for c in self._spoken.meant(words)]
        return [(1, replace(hit, hint=why)) for hit, why in called if hit is not None]

    def _matching(self, words: Sequence[str], kinds: set[str] | None) -> list[tuple[int, Hit]]:
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
        return [(rank, self.hits[i]) for rank, *_, i in found]


def folded_words(text: object) -> str:
    """Fold for comparing: small letters; slashes, hyphens, commas and blanks part words."""
    return " ".join(parted(text))


def _everything(seen: PlantSnapshot, more: Sequence[str]) -> Iterator[Hit]:
    tables = seen.tables

    def rows(kind: str) -> Iterable[dict[str, Any]]:
        found: Iterable[dict[str, Any]] = seen.table(kind).to_pylist()
        return found

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
    for r in rows("snags") if "snags" in more else ():
        state = "settled" if r["done_on"] else "open"
        yield Hit("snag", r["snag"], ", ".join(filter(None, [_said(r, "what", "where"), state])), ("snag", r["snag"]))
    for r in rows("visits") if "visits" in more else ():
        yield Hit("visit", r["visit"], _said(r, "visited_on", "visited_by", "done", "notes"), ("visit", r["visit"]))
    yield from _plugs(tables)
    yield from _cores(seen.cores)


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


def _cores(cores: pa.Table) -> Iterator[Hit]:
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
