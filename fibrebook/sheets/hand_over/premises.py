"""One customer's part of a shared site: what stands on the named premises, and the cables that end there.

Of what lies beyond, only the far ends of these cables are named; everything else is "other premises".
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from fibrebook.errors import NotFoundError
from fibrebook.sheets.paper.wording import Wording
from fibrebook.sheets.site_facts import CableFacts, EnclosureFacts, Row, SiteFacts
from fibrebook.words.nearest import did_you_mean

WHOLLY = ("reserved_for", "notes")  # of a core: told only where both its ends are on these premises


@dataclass(frozen=True)
class OwnPart:
    """Which labels belong to the part of a site that a pack tells.

    Attributes
    ----------
    own : enclosures and equipment on the premises; cables : those that end there; ends : enclosures at either end of
    these cables; channels : those with an end on the premises; words : labels by which a free text speaks of the part
    """

    own: frozenset[str]
    cables: frozenset[str]
    ends: frozenset[str]
    channels: frozenset[str]
    words: frozenset[str]
    beyond: str

    def place(self, label: str | None) -> str:
        """Return a place's label, or that it is in other premises."""
        return label or "" if not label or label in self.own or label in self.ends else self.beyond

    def spoken_of(self, text: str | None) -> bool:
        """Whether a free text names something of this part."""
        said = (text or "").casefold()
        return any(re.search(rf"(?<!\w){re.escape(w.casefold())}(?!\w)", said) for w in self.words)


def part_of(facts: SiteFacts, locations: Sequence[Row], premises: str, w: Wording) -> OwnPart:
    """Return the part of a site on the named premises.

    Raises
    ------
    NotFoundError : no location of the site is on premises of that name; the nearest is named
    """
    rooms = {row["location"] for row in locations if row["premises"] == premises}
    if not rooms:
        known = sorted({row["premises"] for row in locations if row["premises"]})
        raise NotFoundError(f"{facts.about['site']} has no premises {premises!r}; {did_you_mean(premises, known)}")
    enclosures = {e.row["enclosure"] for e in facts.enclosures if e.row["location"] in rooms}
    equipment = {row["equipment"] for row, _ in facts.equipment if row["location"] in rooms}
    cables = [c.row for c in facts.cables if enclosures & {c.row["a_enclosure"], c.row["b_enclosure"]}]
    ends = {row[f"{end}_enclosure"] for row in cables for end in "ab"} - {None}
    channels = {c["channel"] for c in facts.channels if equipment & {c["a_equipment"], c["b_equipment"]}}
    labels = {row["cable"] for row in cables}
    return OwnPart(
        own=frozenset(enclosures | equipment),
        cables=frozenset(labels),
        ends=frozenset(ends),
        channels=frozenset(channels),
        words=frozenset({*rooms, *enclosures, *equipment, *labels, premises}),
        beyond=w.say("other premises"),
    )


def told_of_part(facts: SiteFacts, part: OwnPart) -> SiteFacts:
    """Return the facts of a site as far as they are of this part."""
    return replace(
        facts,
        cables=[_cable(c, part) for c in facts.cables if c.row["cable"] in part.cables],
        enclosures=[_enclosure(e, part) for e in facts.enclosures if e.row["enclosure"] in part.own],
        equipment=[(row, []) for row, _ in facts.equipment if row["equipment"] in part.own],
        channels=[c for c in facts.channels if c["channel"] in part.channels],
        snags=of_part(facts.snags, part),
        spare={},
    )


def of_part(rows: Iterable[Row], part: OwnPart | None) -> list[Row]:
    """Return the rows whose `where` speaks of something of this part; all of them where the whole site is told."""
    return [row for row in rows if part is None or part.spoken_of(row["where"])]


def _cable(cable: CableFacts, part: OwnPart) -> CableFacts:
    wholly = {cable.row["a_enclosure"], cable.row["b_enclosure"]} - {None} <= part.own
    cores = []
    for core in cable.cores:
        ends = [_end(core, end, said, part) for end, said in zip("ab", core["ends"], strict=True)]
        told = core | {"ends": ends, "channel": _channel(core, part)}
        cores.append(told if wholly else told | dict.fromkeys(WHOLLY))
    return CableFacts(cable.row, cores)


def _end(core: Row, end: str, said: str, part: OwnPart) -> str:
    beyond = core[f"{end}_reaches"]
    own = core[f"{end}_reaches_at"] in part.own | part.cables
    return said if own or not said.endswith(f"→ {beyond}") else f"{said.removesuffix(beyond)}{part.beyond}"


def _enclosure(enclosure: EnclosureFacts, part: OwnPart) -> EnclosureFacts:
    ports = [p | {"channel": _channel(p, part), "leads_to": _leads(p["leads_to"], part)} for p in enclosure.ports]
    trays = {t: [s | {"channel": _channel(s, part)} for s in rows] for t, rows in enclosure.trays.items()}
    return replace(enclosure, ports=ports, trays=trays, dark=[])


def _leads(said: str | None, part: OwnPart) -> str | None:
    if not said or said == "loose end" or any(said == x or said.startswith(f"{x}/") for x in part.own):
        return said
    return part.beyond


def _channel(row: Row, part: OwnPart) -> str | None:
    return row["channel"] if row["channel"] in part.channels else None
