"""What the headings of people's own lists mean: our column names and the words of the trade (common practice)."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

# Meaning -> how a drop-down shows it. "" leaves a column out.
MEANINGS: dict[str, str] = {
    "": "(leave out)",
    "site": "site",
    "cable": "cable",
    "core": "core number",
    "core_count": "how many cores the cable has",
    "cores_per_tube": "cores in each tube",
    "tube_colour": "colour of the tube",
    "core_colour": "colour of the core",
    "a_enclosure": "panel or enclosure at end A",
    "a_panel_port": "panel/port at end A, in one cell",
    "a_port": "port at end A",
    "a_position": "position at end A",
    "b_enclosure": "panel or enclosure at end B",
    "b_panel_port": "panel/port at end B, in one cell",
    "b_port": "port at end B",
    "b_position": "position at end B",
    "fibre_class": "fibre class",
    "length_m": "length in metres",
    "condition": "condition of the core",
    "reserved_for": "what the core is reserved for",
    "use": "note: what it is used for",
    "remark": "note: remark",
}
FROM_A, TO_B = {"a", "from", "near"}, {"b", "to", "far"}
PANEL = {"panel", "panels", "enclosure", "frame", "box", "closure"}
CORE = {"core", "fibre", "fiber", "strand"}
NUMBER = {"no", "nr", "number", "num", "id", "ref", "label", "name", "a", "b"}
FAULTY = (
    "faulty", "broken", "bad", "dead", "defect", "defective", "fail", "failed", "no light", "open", "cut", "break",
)  # fmt: skip
SOUND = ("sound", "ok", "good", "pass", "passed", "fine")
BLANK = ("-", "--", "–", "n/a", "n/t", "nt", "none", "nil", "tba", "not terminated", "unterminated", "spare", "dark")
# Ways to write a fibre class (ISO/IEC 11801-1 names; nominal core/cladding diameters of IEC 60793-2).
CLASS_WORDS = (
    (r"os1a", "OS1a"), (r"os2", "OS2"), (r"os1", "OS1"), (r"om([1-5])", "OM{0}"), (r"g\.?652\.?d", "G.652.D"),
    (r"g\.?657\.?a([12])", "G.657.A{0}"), (r"(mm|multi-?mode)? *62[.,]5(/125)?( um)?", "OM1"),
)  # fmt: skip
# The mode alone names no class. OS2 is what has been laid since about 2005 (common practice, no source); it is not the
# stricter one, so whoever brings the list in is told (`guessed_class`).
SINGLE_MODE_ONLY = r"(sm|smf|single-?mode)?( |-)*(9|9/125)( um)?|(sm|smf|single-?mode)"


def meanings(headings: Sequence[str]) -> list[str]:
    """Return what each heading of a row means, "" where it is not known; each meaning at most once.

    Panels and ports without a word for the end are end A's at the first mention, end B's at the second.
    """
    taken: set[str] = set()
    out = []
    for heading in headings:
        found = meaning_of(heading)
        if found.startswith("?"):
            ends = [f"{end}{found[1:]}" for end in "ab"]
            found = next((e for e in ends if e not in taken), "")
        if found in taken:
            found = ""
        taken.add(found)
        out.append(found)
    return out


def meaning_of(heading: str) -> str:
    """Return what one heading means; "?_port" and the like where it does not say which end."""
    text = " ".join(str(heading).casefold().replace("_", " ").split())
    words = re.findall(r"[a-z]+|\d+", text)
    has = set(words)
    if not words or len(words) > 6:
        return ""
    end = "a" if has & FROM_A else "b" if has & TO_B and "goes" not in has else "?"
    if has & PANEL and "port" in has:
        return f"{end}_panel_port"
    if "port" in has and not has & {"switch", "equipment"}:
        return f"{end}_port"
    if has & {"pos", "position"}:
        return f"{end}_position"
    if has & PANEL or text in ("from", "to"):
        return f"{end}_enclosure"
    return _of_cable(text, has)


def _of_cable(text: str, has: set[str]) -> str:
    colour = bool(has & {"colour", "color", "col"})
    if "tube" in has and colour:
        return "tube_colour"
    if {"per", "tube"} <= has:
        return "cores_per_tube"
    if colour:
        return "core_colour"
    if has & {"length", "metres", "meters"} or text == "m":
        return "length_m"
    if has & {"class", "type"} or text in ("fibre", "fiber"):
        return "fibre_class" if text not in ("fibre", "fiber") else "core"
    if has & {"cores", "fibres", "fibers", "count", "size"} or {"core", "count"} <= has:
        return "core_count"
    if "cable" in has and not has - {"cable"} - NUMBER:
        return "cable"
    if has & CORE and not has - CORE - NUMBER:
        return "core"
    if "reserved" in has:
        return "reserved_for"
    single: Mapping[str, tuple[str, ...]] = {
        "site": ("site", "premises", "where"),
        "condition": ("condition", "status", "state", "result"),
        "use": ("use", "used", "service", "purpose", "goes", "serves", "circuit"),
        "remark": ("remark", "remarks", "note", "notes", "comment", "comments"),
    }
    return next((meaning for meaning, words in single.items() if has & set(words)), "")


def fibre_class_of(text: str) -> str:
    """Return the fibre class that a spelling means, "" where it is not known."""
    folded = " ".join(text.casefold().split())
    for pattern, name in CLASS_WORDS:
        found = re.fullmatch(pattern, folded) or (
            re.search(rf"\b{pattern}\b", folded) if name.startswith(("OM{", "OS")) else None
        )
        if found:
            return name.format(*(g for g in found.groups() if g)) if "{" in name else name
    return "OS2" if re.fullmatch(SINGLE_MODE_ONLY, folded) else ""


def guessed_class(text: str) -> str:
    """Return what to tell of a spelling whose class is a guess with a risk in it, "" where it names its class."""
    folded = " ".join(text.casefold().split())
    if not folded or not re.fullmatch(SINGLE_MODE_ONLY, folded):
        return ""
    return (
        f"{text!r} names no class: read as OS2 (0.4 dB/km at most), which nearly all single-mode cable has been since "
        "about 2005; OS1 may lose 1.0 dB/km, so say OS1 where the sheath or the year does"
    )
