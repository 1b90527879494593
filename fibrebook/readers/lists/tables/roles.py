"""What a column may mean, in words for people, and which of them a heading means."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from fibrebook.readers.lists.tables.heading_words import spoken

# Role -> how it is told. Roles with an end stand for two: "a_port" and "b_port".
OF_AN_END = {
    "enclosure": "panel or enclosure",
    "panel_port": "panel and port in one cell",
    "port": "port",
    "position": "position on a duplex adaptor",
    "tray": "tray",
    "location": "place",
}
ROLES: dict[str, str] = {
    "site": "site",
    "cable": "cable",
    "core": "core number",
    "cable_core": "cable and core in one cell",
    "tube": "number of the tube",
    "tube_colour": "colour of the tube",
    "core_colour": "colour of the core",
    "tube_core": "tube and core in one cell",
    "core_count": "how many cores the cable has",
    "cores_per_tube": "cores in each tube",
    "fibre_class": "fibre class",
    "length_m": "length in metres",
    "condition": "condition of the core",
    "reserved_for": "what the core is reserved for",
    "remark": "note on it",
    "loss_db": "loss in dB",
    "tested_on": "when it was tested",
    "tested_by": "who tested it",
    "installed_on": "when the cable was pulled",
    "route": "the way the cable takes",
    "sheath": "sheath of the cable",
    "cord": "label of the cord",
    "leave out": "left out",
    **{f"{e}_{role}": f"{told} at end {e.upper()}" for role, told in OF_AN_END.items() for e in "ab"},
}
# What is spoken of in a heading -> role; the first whose words are all there and whose others are not.
_RULES: tuple[tuple[str, str, str], ...] = (
    ("tube core", "", "tube_core"),
    ("tube colour", "", "tube_colour"),
    ("per tube", "", "cores_per_tube"),
    ("core count", "", "core_count"),
    ("core colour", "", "core_colour"),
    ("cable colour", "", "sheath"),
    ("colour", "panel port", "core_colour"),
    ("equipment", "", "note"),
    ("interface", "", "note"),
    ("panel port", "", "?panel_port"),
    ("port", "use", "?port"),
    ("position", "item", "?position"),
    ("tray", "panel", "?tray"),
    ("slot", "", "note"),
    ("splice", "loss", "note"),
    ("cable core", "class length number loss", "cable_core"),
    ("cable length", "", "length_m"),
    ("cable class", "", "fibre_class"),
    ("core class", "", "fibre_class"),
    ("loss", "", "loss_db"),
    ("tested date", "", "tested_on"),
    ("tested by", "", "tested_by"),
    ("installed date", "", "installed_on"),
    ("installed", "by", "installed_on"),
    ("tested", "", "condition"),
    ("panel", "count", "?enclosure"),
    ("length", "", "length_m"),
    ("connector", "", "note"),
    ("class", "", "fibre_class"),
    ("cord", "", "cord"),
    ("cable", "", "cable"),
    ("tube", "", "tube"),
    ("core", "", "core"),
    ("reserved", "", "reserved_for"),
    ("result", "", "condition"),
    ("site", "", "site"),
    ("use", "", "remark"),
    ("remark", "", "remark"),
    ("route", "", "route"),
    ("sheath", "", "sheath"),
    ("location", "", "?location"),
    ("date", "", "note"),
    ("by", "", "note"),
    ("count", "", "core_count"),
    ("item", "", "item"),
)

# Without one of these a row of headings heads no list of cabling.
TELLING = {"cable", "core", "cable_core", "port", "panel_port", "core_count", "enclosure", "core_colour", "tube_core",
           "loss_db"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Heading:
    """What one heading is taken for.

    Attributes
    ----------
    role : a role, "" = not known; "note" and "item" = known words that make no record of themselves
    end : "a", "b" or "" = it does not say
    unknown : words of it that are not known here: a name of a place, perhaps
    wavelength : in nm, where it names one
    """

    role: str = ""
    end: str = ""
    unknown: tuple[str, ...] = ()
    wavelength: int | None = None


@lru_cache(maxsize=20_000)
def heading_of(text: str) -> Heading:
    """Return what a heading means by its words."""
    plain = " ".join(text.split())
    if not plain or len(plain) > 60:
        return Heading()
    has, unknown = spoken(plain)
    unknown = tuple(w for w in unknown if not (w.isdecimal() and len(w) == 1))
    nm = re.search(r"(?<!\d)(850|1300|1310|1383|1490|1550|1577|1625)(?!\d)", plain)
    wavelength = int(nm[1]) if nm else None
    unknown = tuple(w for w in unknown if not nm or w != nm[1])
    end = "a" if "a" in has and "b" not in has else "b" if "b" in has and "a" not in has else ""
    things = has - {"a", "b", "end", "number"}
    if wavelength and not things - {"loss", "wavelength", "tested"}:
        return Heading("loss_db", "", unknown, wavelength)
    role = next((r for all_, none, r in _RULES if set(all_.split()) <= things and not things & set(none.split())), "")
    if not role and end and not unknown:
        role = "?place"
    if not role and "number" in has and not unknown and not things:
        role = "item"
    role = {"remark": "remark", "core": _core_or_class(plain)}.get(role, role)
    return Heading(role.lstrip("?") if role.startswith("?") else role, end, unknown, wavelength)


def _core_or_class(plain: str) -> str:
    return "core_count" if re.fullmatch(r"(?i)(cores|fibres|fibers|adern|fasern|strands)( count)?", plain) else "core"


def is_heading(text: str) -> bool:
    """Whether a cell's text is a heading whose words are all known."""
    return heading_weight(text) == 1


@lru_cache(maxsize=20_000)
def heading_weight(text: str) -> float:
    """Return how much a cell's text looks like a heading: 1 = all its words are known, 0 = not at all."""
    found = heading_of(text) if text else Heading()
    if not found.role or (text[0].isdecimal() and not found.wavelength):
        return 0
    if found.unknown:
        return 0.6
    return 0.2 if re.search(r"\d", text) and not found.wavelength else 1


def with_ends(found: Sequence[Heading]) -> list[str]:
    """Return each column's role with its end; where headings do not say it, the first of a role is end A's, then B's.

    A role of an end that is met a third time stays without meaning: it is asked.
    """
    taken: set[str] = set()
    out = []
    said = [h.end for h in found]
    for i, heading in enumerate(found):
        role = heading.role
        if role == "place":
            role = "enclosure"
        if role in OF_AN_END:
            end = said[i] or next((e for e in "ab" if f"{e}_{role}" not in taken), "")
            role = f"{end}_{role}" if end else ""
        elif role in ("note", "item"):
            role = ""
        if role in taken and role not in ("loss_db", "remark"):
            role = ""
        taken.add(role)
        out.append(role)
    return out
