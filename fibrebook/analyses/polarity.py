"""Does transmit reach receive, and if not, which element turns the pair over: every channel's pair, piece by piece.

A pair goes through cords and links (what lies between two panels). Each either keeps the two fibres on the same sides
or turns them over; a channel must turn over an odd number of times (TIA-568.3; ISO/IEC 14763-2). A cord's sides are
read off the records: A to B is the usual cord, A to A the special one. So are a link's: with reversed pairs A comes
out at B, with consecutive fibres recorded by number 1 comes out at 1.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa

from fibrebook.analyses.assemble import network
from fibrebook.light.catalogue import application, application_name
from fibrebook.plant import Network
from fibrebook.plant.polarity import ARRIVES, CROSSED, VERDICTS, light_ways
from fibrebook.plant.walk import Start, path_through
from fibrebook.records import to_frame
from fibrebook.records.ends import key_text
from fibrebook.records.keys import natural

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

NOT_COMPLETE = "not complete"
APART = "its two fibres do not go the same way"
SAME_WAVELENGTH = "both ends send the same wavelength"
SCHEMA = pa.schema(
    [
        ("site", pa.string()), ("channel", pa.string()), ("verdict", pa.string()), ("turns", pa.int32()),
        ("elements", pa.string()), ("turned_by", pa.string()), ("do", pa.string()),
    ]
)  # fmt: skip
LASER = "Never look into a fibre or port: use a meter or card."


@dataclass(frozen=True)
class Element:
    """A cord or link of a pair; `turns`: whether the two fibres change sides in it."""

    kind: str  # cord, link
    at: str
    how: str  # A-B, A-A; reversed pair, straight
    turns: bool
    role: tuple[str, int]  # kind and place, counted from the end a


def polarity(reg: Register, site: str | None = None) -> pd.DataFrame:
    """Judge the polarity of every channel and name the element that is wrong.

    Returns
    -------
    DataFrame, one row a channel: site, channel, verdict (transmit reaches receive, transmit reaches transmit, light
    comes out at another interface, light does not arrive; its two fibres do not go the same way; both ends send the
    same wavelength, on one fibre), turns (how often the pair turns over; odd is right), elements (cords A-B or A-A,
    links straight or as reversed pair, in order from end a), turned_by (where transmit reaches transmit: the element
    that is unlike its fellows in the site's other channels), do.
    """
    from fibrebook.analyses.assemble import check_site

    if site is not None:
        check_site(reg, site)
    rows = [row for one in ([site] if site else reg.sites()) for row in polarity_rows(network(reg, one), one)]
    return to_frame(pa.Table.from_pylist(rows, schema=SCHEMA))


def polarity_rows(net: Network, site: str) -> list[dict[str, object]]:
    """As `polarity`, as rows, from one site's network."""
    ways, channels = light_ways(net), net.ends.table("channels").to_pylist()
    chains = {i: _pair(net, row) for i, row in enumerate(channels)}
    good = set(ways.channel[ways.verdict == ARRIVES].tolist()) - set(ways.channel[ways.verdict != ARRIVES].tolist())
    usual: dict[tuple[str, int], Counter[bool]] = {}
    for i in good:
        for element in chains[i] or []:
            usual.setdefault(element.role, Counter())[element.turns] += 1
    return [
        _row(net, site, i, row, chains[i], _worst(ways.verdict[ways.channel == i]), usual)
        for i, row in enumerate(channels)
    ]


def _worst(verdicts: np.ndarray) -> str:
    return VERDICTS[int(verdicts.max())] if len(verdicts) else NOT_COMPLETE


def _row(
    net: Network,
    site: str,
    i: int,
    row: dict[str, str],
    chain: list[Element] | None,
    verdict: str,
    usual: dict[tuple[str, int], Counter[bool]],
) -> dict[str, object]:
    told: dict[str, object] = {"site": site, "channel": row["channel"], "verdict": verdict}
    if verdict == VERDICTS[ARRIVES] and _same_wavelength(net, row):
        told |= {"verdict": SAME_WAVELENGTH, "do": "one end needs the optic that sends the other wavelength"}
    if chain is None:
        if verdict == VERDICTS[CROSSED]:
            told["turned_by"] = APART
        return told
    told["turns"] = sum(e.turns for e in chain)
    told["elements"] = ", ".join(f"{e.kind} {e.at} {e.how}" for e in chain)
    if verdict == VERDICTS[CROSSED]:
        odd = [e for e in chain if e.role in usual and usual[e.role].most_common(1)[0][0] != e.turns]
        cords = [e for e in chain if e.kind == "cord"]
        culprit = next((e for e in odd if e.kind == "cord"), None) or (odd or cords or chain)[0]
        why = "unlike the site's other channels" if odd else "none stands out; a cord is the easiest to turn"
        told["turned_by"] = f"{culprit.kind} {culprit.at} ({culprit.how}): {why}"
        told["do"] = (
            f"turn its two fibres over at one end. {LASER}" if culprit.kind == "cord" else f"swap a cord. {LASER}"
        )
    return told


def _same_wavelength(net: Network, row: dict[str, str]) -> bool:
    """Whether two single-fibre optics of one channel send alike."""
    faces = net.ends.table("interfaces").to_pylist()
    ends = [(row["a_equipment"], row["a_interface"]), (row["b_equipment"], row["b_interface"])]
    sent = []
    for end in ends:
        mine = [f for f in faces if (f["equipment"], f["interface"]) == end and f["position"] == "TxRx"]
        name = application_name(mine[0]["application"] or "") if mine else None
        found = application(name) if name else None
        if found is None or found.fibres != 1 or len(found.wavelengths_nm) != 1:
            return False
        sent.append(found.wavelengths_nm)
    return sent[0] == sent[1]


def _pair(net: Network, row: dict[str, str]) -> list[Element] | None:
    """The elements of a channel's two fibres from end a; None where it is no pair, or the two part company."""
    faces = net.ends.table("interfaces").to_pylist()
    strands = []
    for position in ("Tx", "Rx"):
        at = [
            i
            for i, f in enumerate(faces)
            if (f["equipment"], f["interface"], f["position"]) == (row["a_equipment"], row["a_interface"], position)
        ]
        if not at:
            return None
        strands.append(_stages(net, net.first_interface + at[0]))
    one, other = strands
    if len(one) != len(other) or len(one) < 2:
        return None
    elements: list[Element] = []
    for k in range(len(one) - 1):
        (start, name, kind), (start2, name2, kind2) = one[k], other[k]
        stop, stop2 = one[k + 1][0], other[k + 1][0]
        sides = _side(net, start, start2), _side(net, stop, stop2)
        if kind != kind2 or None in sides:
            return None
        turns = sides[0] != sides[1]
        where = name if name == name2 else f"{name} and {name2}"
        how = ("A-B" if turns else "A-A") if kind == "cord" else ("reversed pair" if turns else "straight")
        elements.append(Element(kind, where, how, turns, (kind, k)))
    return elements


def _stages(net: Network, vertex: int) -> list[tuple[int, str, str]]:
    """Plugs on a strand in order, each with the name and kind of the element that follows it."""
    out: list[tuple[int, str, str]] = []
    cables: list[str] = []
    names = net.ends.table("cables")["cable"]
    cords = net.ends.table("patches")["cord"]
    for step in path_through(net, Start(vertex, 0, "")):
        if step.what in ("port", "interface"):
            if out and cables:
                out[-1] = (out[-1][0], " to ".join(dict.fromkeys(cables)), "link")
                cables = []
            out.append((step.vertex, "", ""))
        elif step.what == "patch" and out:
            out[-1] = (out[-1][0], cords[step.row].as_py(), "cord")
        elif step.what == "core":
            cables.append(names[int(net.ends.core_cable[step.row])].as_py())
    return out


def _side(net: Network, one: int, other: int) -> int | None:
    """Side (0 or 1) of a strand's plug within its pair: A or Tx is 0, B or Rx is 1; simplex ports by their number."""
    keys = [_key(net, v) for v in (one, other)]
    known = {"A": 0, "Tx": 0, "B": 1, "Rx": 1}
    sides = [known.get(k[2] or "") for k in keys]
    if keys[0][:2] == keys[1][:2] and None not in sides:
        return sides[0]
    order = [natural(key_text({"p": k[1], "q": k[2]}, ("p", "q"))) for k in keys]
    if keys[0][0] != keys[1][0] or order[0] == order[1]:
        return None
    return int(order[0] > order[1])


def _key(net: Network, vertex: int) -> tuple[str, str, str | None]:
    kind, columns, first = (
        ("interfaces", ("equipment", "interface", "position"), net.first_interface)
        if vertex >= net.first_interface
        else ("ports", ("enclosure", "port", "position"), net.ends.first_plug)
    )
    table = net.ends.table(kind)
    a, b, c = (table[name][vertex - first].as_py() for name in columns)
    return a, b, c
