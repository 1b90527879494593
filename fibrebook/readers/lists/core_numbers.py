"""Which core of its cable each line means: by number, by tube, by colours; numbers are held against colours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from fibrebook.readers.lists.asking import LEAVE_OUT, Asking
from fibrebook.readers.lists.lines import Item
from fibrebook.readers.lists.values.colours import FULL_TUBE, fitting_codes, place_of, places_of
from fibrebook.reference.colours import codes

USUAL_TUBES = (2, 4, 6, 8, 12, 16, 24)
MOSTLY = 0.7  # share of colours that must fit a code before those that do not are taken for slips
DEFAULT = "TIA-598"


@dataclass
class CableCores:
    """The lines of one cable, and what was found of it.

    per_tube : cores in each tube, where the list shows it; code : colour code, "" = not known
    """

    site: str
    cable: str
    items: list[Item]
    per_tube: int | None = None
    code: str = ""
    name: str = ""  # by which it is told to people
    waiting: set[int] = field(default_factory=set)  # cores that lines name which wait
    doubtful: set[int] = field(default_factory=set)  # positions in `items` that wait


def number_cores(cable: CableCores, asking: Asking, extra: Mapping[str, Sequence[str]] | None = None) -> None:
    """Give every line of a cable its core number, or ask; mark as doubtful what waits."""
    colours = [i for i in cable.items if "core_colour" in i.values]
    only_colours = any("core" not in i.values and "in_tube" not in i.values for i in colours)
    _find_code(cable, asking, only_colours, extra)
    for item in cable.items:
        tube_colour = item.values.get("tube_colour")
        if tube_colour and "tube" not in item.values and cable.code:
            found = place_of(tube_colour, cable.code, extra)
            if found:
                item.values["tube"] = found
        if "core" not in item.values and "in_tube" not in item.values and cable.code and item.values.get("core_colour"):
            found = place_of(item.values["core_colour"], cable.code, extra)
            if found:
                item.values["in_tube"] = found
                item.cells["in_tube"] = item.cells["core_colour"]
    _out_of_tubes(cable, asking)
    _hold_against_colours(cable, asking, extra)


def _positions(cable: CableCores) -> list[tuple[int, str]]:
    """Return position in the tube and colour of each line that tells both, colours with a mark apart."""
    first: dict[int, int] = {}
    for item in cable.items:
        tube, core = item.values.get("tube"), item.values.get("core")
        if tube and core:
            first[tube] = min(first.get(tube, core), core)
    out = []
    for item in cable.items:
        colour, core = item.values.get("core_colour"), item.values.get("in_tube") or item.values.get("core")
        if colour and core and not item.values.get("core_colour_marked"):
            tube = item.values.get("tube")
            at = (
                core - first[tube] + 1 if tube in first and "in_tube" not in item.values else (core - 1) % FULL_TUBE + 1
            )
            out.append((at, colour))
    return out


def _find_code(
    cable: CableCores, asking: Asking, needed: bool, extra: Mapping[str, Sequence[str]] | None
) -> None:  # fmt: skip
    pairs = _positions(cable)
    if pairs:
        fits = fitting_codes(pairs, extra)
        if not fits:
            counted = [(sum(place_of(c, code, extra) == n for n, c in pairs) / len(pairs), code) for code in codes()]
            best = max(counted, key=lambda x: x[0])
            fits = [best[1]] if best[0] >= MOSTLY else []
        if DEFAULT in fits or len(fits) == 1:
            cable.code = DEFAULT if DEFAULT in fits else fits[0]
            return
        if not fits:
            cells = [i.cells["core_colour"] for i in cable.items if "core_colour" in i.cells]
            what = f"The colours of cable {cable.name} fit no colour code that is known: are they to be left out?"
            if asking.ask(f"colours of {cable.name}", cells, cable.cable, what, (LEAVE_OUT,)) == LEAVE_OUT:
                for item in cable.items:
                    item.values.pop("core_colour", None)
            return
        _ask_code(cable, asking, fits, "fit several colour codes")
        return
    if not needed:
        if any("tube_colour" in i.values and "tube" not in i.values for i in cable.items):
            _code_by_order(cable, asking, [i.values.get("tube_colour") for i in cable.items], extra)
        return
    seen = [i.values.get("core_colour") for i in cable.items]
    _code_by_order(cable, asking, seen, extra)


def _code_by_order(
    cable: CableCores, asking: Asking, seen: Sequence[str | None], extra: Mapping[str, Sequence[str]] | None
) -> None:
    """Only colours: the code is sure where four or more of them come in its order from the first."""
    order = list(dict.fromkeys(c for c in seen if c))
    fits = fitting_codes(list(enumerate(order, 1)), extra) if len(order) <= FULL_TUBE else []
    if fits and len(order) >= 4 and (fits[0] == DEFAULT or len(fits) == 1):
        cable.code = fits[0]
        return
    _ask_code(cable, asking, fits or list(codes()), "give no core numbers")


def _ask_code(cable: CableCores, asking: Asking, fits: Sequence[str], why: str) -> None:
    cells = [i.cells[r] for i in cable.items for r in ("core_colour", "tube_colour") if r in i.cells]
    what = f"The colours in the list {why}: which colour code do the cables have?"
    answer = asking.ask("colour code", cells, cable.cable, what, tuple(fits))
    cable.code = answer or ""
    if not answer:
        cable.doubtful |= {n for n, i in enumerate(cable.items) if "core" not in i.values}


def _out_of_tubes(cable: CableCores, asking: Asking) -> None:
    """Turn tube and core in the tube into the core's number in the cable."""
    by_tube: dict[int, list[int]] = {}
    for item in cable.items:
        tube = item.values.get("tube")
        core = item.values.get("in_tube") or (item.values.get("core") if tube else None)
        if tube and core:
            by_tube.setdefault(tube, []).append(core)
    every = [c for cores in by_tube.values() for c in cores]
    again = len(by_tube) > 1 and len(set(every)) < len(every) and all(len(set(v)) == len(v) for v in by_tube.values())
    within = any("in_tube" in i.values for i in cable.items)
    if len(by_tube) > 1 and not (again or within):
        sizes = {max(v) - min(v) + 1 for v in by_tube.values()}
        cable.per_tube = max(sizes) if len(sizes) == 1 and max(sizes) in USUAL_TUBES else None
        return
    if not (again or within):
        return
    said = {int(i.values["cores_per_tube"]) for i in cable.items if i.values.get("cores_per_tube")}
    counts = {int(i.values["core_count"]) for i in cable.items if str(i.values.get("core_count", "")).isdecimal()}
    most = max(every, default=1)
    full = most in USUAL_TUBES[1:] and all(sorted(v) == list(range(1, most + 1)) for v in by_tube.values())
    fits = not counts or counts == {most * max(by_tube)}
    per_tube = said.pop() if len(said) == 1 else most if full and fits else None
    if (
        per_tube is None
        and len(counts) == 1
        and max(counts) % max(by_tube) == 0
        and sorted(by_tube) == list(range(1, max(by_tube) + 1))
    ):
        shared = max(counts) // max(by_tube)
        per_tube = shared if shared >= most and shared in USUAL_TUBES and len(by_tube) > 1 else None
    if per_tube is None and len(by_tube) > 1:
        cells = [i.cells["tube"] for i in cable.items if "tube" in i.cells]
        what = (
            f"Cable {cable.name} has {len(by_tube)} tubes; the highest core in one is {most}: how many cores has each?"
        )
        ways = tuple(str(n) for n in USUAL_TUBES if n >= most)
        answer = asking.ask(f"cores in each tube of {cable.name}", cells, cable.cable, what, ways)
        per_tube = int(answer) if answer and answer.isdecimal() else None
        if per_tube is None:
            cable.doubtful |= set(range(len(cable.items)))
            return
    cable.per_tube = per_tube if len(by_tube) > 1 else None
    for item in cable.items:
        tube, core = item.values.get("tube"), item.values.get("in_tube") or (item.values.get("core") if again else None)
        if core and (tube or len(by_tube) < 2):
            item.values["core"] = ((tube or 1) - 1) * (per_tube or 0) + core
            item.cells.setdefault("core", item.cells.get("in_tube") or item.cells.get("tube") or item.every[0])
            item.values["in_tube"] = core


def _hold_against_colours(
    cable: CableCores, asking: Asking, extra: Mapping[str, Sequence[str]] | None
) -> None:  # fmt: skip
    """A core whose colour is not the one of its number is asked about, and waits."""
    if not cable.code:
        return
    places = places_of(cable.code, extra)
    for n, item in enumerate(cable.items):
        colour, core = item.values.get("core_colour"), item.values.get("core")
        if not colour or not core or item.values.get("core_colour_marked"):
            continue
        at = item.values.get("in_tube") or ((core - 1) % (cable.per_tube or FULL_TUBE)) + 1
        place = places.get(colour)
        if place == (at - 1) % FULL_TUBE + 1:
            continue
        cells = [item.cells[r] for r in ("core", "core_colour") if r in item.cells]
        by_colour = f", which would be core {core - at + place}" if place else ""
        what = (
            f"Core {core} of cable {cable.name} is said to be {colour}{by_colour} by {cable.code}: which is right, the "
            f"number or the colour?"
        )
        ways = ("the number", *(("the colour",) if place else ()), LEAVE_OUT)
        answer = asking.ask(
            f"colour of core {core} of {cable.name}, {colour}", [*cells, *item.every], colour, what, ways
        )
        if answer is None or answer == LEAVE_OUT:
            cable.doubtful.add(n)
        elif answer == "the colour" and place:
            item.values["core"] = core - at + place
