"""What stands in the plant, on paper: the cores of a cable, a tray as it lies open, a panel, open snags, a cabinet.

Each function takes what `site_facts` tells and the words, and gives a section. Nothing is reckoned here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fibrebook.plant.states import STATES, UNTERMINATED
from fibrebook.sheets.paper.place_codes import place_code
from fibrebook.sheets.paper.printed_text import printed
from fibrebook.sheets.paper.sections import Block, PaperSection, facts, fibre, table, words
from fibrebook.sheets.paper.wording import Wording
from fibrebook.sheets.site_facts import CableFacts, EnclosureFacts, Row, folded_ports

FROM_AFAR = 120  # letters of a text that is read from afar: some six lines
SLOTS_ON_A_SHEET, SLOTS_OF_LARGE_LETTERS = 24, 12


def core_schedule(site: str, cable: CableFacts, w: Wording, notes: bool = True) -> PaperSection:
    """Return the cores of a cable with both ends; a tube of which no core is made off is one line.

    notes : whether what somebody noted of a core is told; it is for one's own people
    """
    label, row = cable.row["cable"], cable.row
    about = facts(
        [
            (w.say("From"), row["a_enclosure"]),
            (w.say("To"), row["b_enclosure"]),
            (w.say("Cores"), row["core_count"]),
            (w.say("Fibre class"), row["fibre_class"]),
            (w.say("Colour code"), row["colour_code"]),
            (w.say("Length"), "" if row["length_m"] is None else f"{row['length_m']:g} m"),
            (w.say("Route"), row["route"]),
            (w.say("Installed"), row["installed_on"]),
            (w.say("States"), ", ".join(f"{count} {w.say(state)}" for state, count in cable.states)),
        ]
    )
    heads = [w.say(h) for h in ("Core", "Colours", "State", "End A", "End B", "Channel")]
    told = cable.cores if notes else [core | {"notes": None} for core in cable.cores]
    rows = [_core(group, w) for group in _untouched_together(told)]
    cores = table(heads, (0.8, 2.8, 1.9, 2.9, 2.9, 1.2), rows)
    return PaperSection(w.say("Cable {cable}: cores", cable=label), place_code(site, "cable", label), [*about, *cores])


def _untouched_together(cores: Sequence[Row]) -> list[list[Row]]:
    """Cores one after another in groups: those of one tube of which nothing is made off, else each by itself."""
    out: list[list[Row]] = []
    for core in cores:
        if out and _untouched(core) is not None and _untouched(core) == _untouched(out[-1][-1]):
            out[-1].append(core)
        else:
            out.append([core])
    return out


def _untouched(core: Row) -> tuple[Any, ...] | None:
    bare = core["state"] == STATES[UNTERMINATED] and not any(core[c] for c in ("reserved_for", "notes", "channel"))
    lies = bare and all("→" not in end for end in core["ends"])
    return (core["tube_colour"], core["tube_tracer"], *core["ends"]) if lies else None


def _core(group: Sequence[Row], w: Wording) -> list[Any]:
    first, last = group[0], group[-1]
    if len(group) > 1:
        number = f"{first['core']} – {last['core']}"
        colour: Any = fibre(first["colour"].partition(", ")[0] if first["tube_colour"] else "")
        state = w.say("{count} cores, none made off", count=len(group))
    else:
        number, colour, state = str(first["core"]), fibre(first["colour"]), w.say(first["state"])
        if first["reserved_for"]:
            state += f": {first['reserved_for']}"
        if first["fault_m"] is not None:
            state += w.say(", {metres} m from end A", metres=f"{first['fault_m']:g}")
        if first["notes"]:
            state += f" ({first['notes']})"
    return [number, colour, state, *first["ends"], first["channel"]]


def tray_blocks(tray: str, splices: Sequence[Row], w: Wording) -> list[Block]:
    """Return a tray as it lies open, slot under slot, so many slots a block that each fits one A5 page."""
    out: list[Block] = []
    for start in range(0, len(splices), SLOTS_ON_A_SHEET):
        part = splices[start : start + SLOTS_ON_A_SHEET]
        large = len(part) <= SLOTS_OF_LARGE_LETTERS
        name = w.say("Tray {tray}, splices: {count}", tray=tray, count=len(splices))
        out.append(
            {"kind": "tray", "name": name, "slots": [_slot(s, w) for s in part], "size": 8.6 if large else 6.6,
             "gap": 3.4 if large else 0.9}
        )  # fmt: skip
    return out


def _core_name(cable: str, core: int, w: Wording) -> str:
    return w.say("{cable} core {core}", cable=cable, core=core)


def _slot(splice: Row, w: Wording) -> dict[str, Any]:
    a, b = fibre(splice["a_colour"]), fibre(splice["b_colour"])
    loss = "" if splice["loss_db"] is None else f"{splice['loss_db']:.2f} dB"
    return {
        "slot": splice["slot"],
        "a": _core_name(splice["a_cable"], splice["a_core"], w), "a_words": a["words"], "a_coats": a["coats"],
        "b": _core_name(splice["b_cable"], splice["b_core"], w), "b_words": b["words"], "b_coats": b["coats"],
        "more": "  ".join(str(p) for p in (loss, splice["channel"]) if p),
    }  # fmt: skip


def tray_sheet(site: str, enclosure: EnclosureFacts, tray: str, w: Wording) -> PaperSection:
    """Return one tray on a sheet of A5."""
    label = enclosure.row["enclosure"]
    heading = w.say("{enclosure}, tray {tray}", enclosure=label, tray=tray)
    blocks = tray_blocks(tray, enclosure.trays[tray], w)
    return PaperSection(heading, place_code(site, "tray", label, tray), blocks, paper="A5")


def trays_of(site: str, enclosure: EnclosureFacts, w: Wording) -> PaperSection:
    """Return all trays of an enclosure in one section of a larger paper."""
    label = enclosure.row["enclosure"]
    blocks = [block for tray, splices in enclosure.trays.items() for block in tray_blocks(tray, splices, w)]
    about = facts([(w.say("Place"), enclosure.place)]) if blocks else []
    return PaperSection(
        w.say("{enclosure}: trays", enclosure=label), place_code(site, "enclosure", label), [*about, *blocks]
    )


def panel_schedule(site: str, enclosure: EnclosureFacts, w: Wording) -> PaperSection:
    """Return the ports of an enclosure: what is made off behind each, what is plugged in front."""
    label = enclosure.row["enclosure"]
    heads = [w.say(h) for h in ("Port", "Core behind", "Colours", "Cord", "Leads to", "Channel")]
    rows = table(heads, (1.1, 2, 3, 1.6, 2.4, 1.2), [_port(p, w) for p in folded_ports(enclosure.ports)])
    sorts = dict.fromkeys("/".join(x for x in (p["connector"], p["polish"]) if x) for p in enclosure.ports)
    about = [
        (w.say("Place"), enclosure.place),
        (w.say("Kind"), enclosure.row["kind"]),
        (w.say("Connectors"), ", ".join(filter(None, sorts))),
    ]
    blocks = [*facts(about), *rows] if rows else []
    return PaperSection(w.say("Panel {panel}", panel=label), place_code(site, "enclosure", label), blocks)


def _port(port: Row, w: Wording) -> list[Any]:
    name = port["port"] if not port["position"] else f"{port['port']} {port['position']}"
    if port["first_bare"]:
        run = name if port["first_bare"] == port["port"] else f"{port['first_bare']} – {port['port']}"
        return [run, w.say("nothing at it"), "", "", "", ""]
    core = _core_name(port["cable"], port["core"], w) if port["cable"] else w.say("none")
    cord = port["cord"] or ""
    if cord and port["strand"]:
        cord = w.say("{cord}, strand {strand}", cord=cord, strand=port["strand"])
    return [name, core, fibre(port["colour"]), cord, port["leads_to"], port["channel"]]


def snag_list(site: str, snags: Sequence[Row], w: Wording, heading: str = "Open snags") -> PaperSection:
    """Return snags with a box to tick; an empty list says so nowhere: the section is left out."""
    heads = [w.say(h) for h in ("Done", "Snag", "What", "Where", "Found")]
    rows = [
        ["☐" if s["done_on"] is None else s["done_on"], s["snag"], s["what"], s["where"], s["found_on"]] for s in snags
    ]
    return PaperSection(w.say(heading), place_code(site, "snags"), table(heads, (1.6, 1, 5, 3, 1.6), rows, roomy=True))


def cabinet_sheet(site: str, place: Row, here: Sequence[Row], cables: Sequence[CableFacts], homes: dict[str, str],
                  w: Wording) -> PaperSection:  # fmt: skip
    """Return a sheet for a cabinet's door, its capitals 10 mm high: what is in it, and where its cables lead.

    Parameters
    ----------
    place : the location; here : enclosures and equipment in it; homes : enclosure -> its location
    """
    mine = {row["enclosure"]: row for row in here if "enclosure" in row}
    blocks: list[Block] = [{"kind": "afar", "text": place["location"], "framed": True}]
    about = ", ".join(filter(None, (place["building"], place["room"], place["rack"])))
    blocks += [{"kind": "afar", "text": printed(about, FROM_AFAR), "framed": False}] if about else []
    for label in mine:
        ways = dict.fromkeys(_far(cable.row, label, homes) for cable in cables)
        leads = ", ".join(filter(None, ways))
        blocks.append({"kind": "afar", "text": f"{label} → {leads}" if leads else label, "framed": False})
    blocks += [{"kind": "afar", "text": row["equipment"], "framed": False} for row in here if "equipment" in row]
    eyes = w.say("Invisible light: do not look into fibres")
    blocks.append({"kind": "afar", "text": eyes, "framed": True})
    code = place_code(site, "location", place["location"])
    return PaperSection(place["location"], code, blocks if here else [], heading_shown=False)


def _far(cable: Row, label: str, homes: dict[str, str]) -> str:
    a, b = cable["a_enclosure"] or "", cable["b_enclosure"] or ""
    far = b if a == label else a if b == label else ""
    return homes.get(far) or far


def say_of_states(w: Wording) -> list[Block]:
    """Return what each state of a core means, for those who read the schedules first."""
    meant = {
        "faulty": "light does not get through it",
        "in service": "a channel runs over it",
        "patched": "a cord is plugged into it, and no channel is recorded",
        "reserved": "it is kept for something",
        "ready": "made off at both ends and free",
        "half-terminated": "made off at one end only",
        "unterminated": "made off at neither end",
    }
    return [words(w.say("What the state of a core means:")), *facts((w.say(s), w.say(meant[s])) for s in STATES)]
