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

from fibrebook.light.catalogue.values import Values
from fibrebook.plant import Network
from fibrebook.plant.light_ways import ARRIVES, CROSSED, VERDICTS
from fibrebook.plant.network import CORE, PATCH
from fibrebook.plant.path_order import Strung
from fibrebook.records import to_frame
from fibrebook.records.references.reference_index import key_text
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.words.labels import natural

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
SIDES = {"A": 0, "Tx": 0, "B": 1, "Rx": 1}
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
    return to_frame(pa.Table.from_pylist(polarity_rows(PlantSnapshot.of(reg, site)), schema=SCHEMA))


def polarity_rows(seen: PlantSnapshot) -> list[dict[str, object]]:
    """As `polarity`, as rows, of one site or all."""
    net, ways = seen.network, seen.light_ways
    pairs = Pairs(net, seen.values)
    channels = net.ends.table("channels").to_pylist()
    worst = np.full(len(channels), -1, np.int64)
    np.maximum.at(worst, ways.channel, ways.verdict)
    chains = [pairs.elements(row) for row in channels]
    usual: dict[tuple[str, str, int], Counter[bool]] = {}  # by site and role, over the channels that are right
    for row, chain, verdict in zip(channels, chains, worst, strict=True):
        for element in (chain or []) if verdict == ARRIVES else []:
            usual.setdefault((row["site"], *element.role), Counter())[element.turns] += 1
    told = [VERDICTS[v] if v >= 0 else NOT_COMPLETE for v in worst]
    return [_row(pairs, *each, usual) for each in zip(channels, chains, told, strict=True)]


def _row(
    pairs: Pairs,
    row: dict[str, str],
    chain: list[Element] | None,
    verdict: str,
    usual: dict[tuple[str, str, int], Counter[bool]],
) -> dict[str, object]:
    told: dict[str, object] = {"site": row["site"], "channel": row["channel"], "verdict": verdict}
    if verdict == VERDICTS[ARRIVES] and pairs.same_wavelength(row):
        told |= {"verdict": SAME_WAVELENGTH, "do": "one end needs the optic that sends the other wavelength"}
    if chain is None:
        if verdict == VERDICTS[CROSSED]:
            told["turned_by"] = APART
        return told
    told["turns"] = sum(e.turns for e in chain)
    told["elements"] = ", ".join(f"{e.kind} {e.at} {e.how}" for e in chain)
    if verdict == VERDICTS[CROSSED]:
        fellows = {e.role: usual.get((row["site"], *e.role)) for e in chain}
        odd = [e for e in chain if (own := fellows[e.role]) and own.most_common(1)[0][0] != e.turns]
        cords = [e for e in chain if e.kind == "cord"]
        culprit = next((e for e in odd if e.kind == "cord"), None) or (odd or cords or chain)[0]
        why = "unlike the site's other channels" if odd else "none stands out; a cord is the easiest to turn"
        told["turned_by"] = f"{culprit.kind} {culprit.at} ({culprit.how}): {why}"
        told["do"] = (
            f"turn its two fibres over at one end. {LASER}" if culprit.kind == "cord" else f"swap a cord. {LASER}"
        )
    return told


class Pairs:
    """The pairs of a network's channels; labels are read into lists once."""

    def __init__(self, net: Network, values: Values) -> None:
        self.net, self.values, self.strung = net, values, Strung(net)
        self.cables = net.ends.table("cables")["cable"].to_pylist()
        self.cords = net.ends.table("patches")["cord"].to_pylist()
        faces, ports = net.ends.table("interfaces"), net.ends.table("ports")
        self.plugs = _labels(ports, ("enclosure", "port", "position"))
        self.plugs += _labels(faces, ("equipment", "interface", "position"))
        keys = zip(faces["site"].to_pylist(), self.plugs[ports.num_rows :], strict=True)
        self.face = {(site, *labels): i for i, (site, labels) in enumerate(keys)}
        self.applications = faces["application"].to_pylist()

    def same_wavelength(self, row: dict[str, str]) -> bool:
        """Whether two single-fibre optics of one channel send alike."""
        sent = []
        for end in "ab":
            at = self.face.get((row["site"], row[f"{end}_equipment"], row[f"{end}_interface"], "TxRx"))
            name = self.values.application_name(self.applications[at] or "") if at is not None else None
            found = self.values.application(name) if name else None
            if found is None or found.fibres != 1 or len(found.wavelengths_nm) != 1:
                return False
            sent.append(found.wavelengths_nm)
        return sent[0] == sent[1]

    def elements(self, row: dict[str, str]) -> list[Element] | None:
        """The elements of a channel's two fibres from end a; None where it is no pair, or the two part company."""
        strands = []
        for position in ("Tx", "Rx"):
            at = self.face.get((row["site"], row["a_equipment"], row["a_interface"], position))
            if at is None or self.net.paths.loops[self.net.first_interface + at]:
                return None
            strands.append(self._stages(self.net.first_interface + at))
        one, other = strands
        if len(one) != len(other) or len(one) < 2:
            return None
        elements: list[Element] = []
        for k in range(len(one) - 1):
            (start, name, kind), (start2, name2, kind2) = one[k], other[k]
            sides = self._side(start, start2), self._side(one[k + 1][0], other[k + 1][0])
            if kind != kind2 or None in sides:
                return None
            turns = sides[0] != sides[1]
            at_both = name if name == name2 else f"{name} and {name2}"
            how = ("A-B" if turns else "A-A") if kind == "cord" else ("reversed pair" if turns else "straight")
            elements.append(Element(kind, at_both, how, turns, (kind, k)))
        return elements

    def _stages(self, vertex: int) -> list[tuple[int, str, str]]:
        """Plugs on a strand in order, each with the name and kind of the element that follows it."""
        net = self.net
        out: list[tuple[int, str, str]] = []
        cables: list[str] = []
        vertices, joints = self.strung.along(vertex)
        for i, here in enumerate(vertices.tolist()):
            if net.ends.first_plug <= here < net.first_loose:
                if out and cables:
                    out[-1] = (out[-1][0], " to ".join(dict.fromkeys(cables)), "link")
                    cables = []
                out.append((here, "", ""))
            if i < len(joints):
                what, row = int(net.joints.what[joints[i]]), int(net.joints.row[joints[i]])
                if what == PATCH and out:
                    out[-1] = (out[-1][0], self.cords[row], "cord")
                elif what == CORE:
                    cables.append(self.cables[int(net.ends.core_cable[row])])
        return out

    def _side(self, one: int, other: int) -> int | None:
        """Side (0, 1) of a strand's plug within its pair: A or Tx is 0, B or Rx is 1; simplex ports by their number."""
        keys = [self.plugs[v - self.net.ends.first_plug] for v in (one, other)]
        sides = [SIDES.get(k[2] or "") for k in keys]
        if keys[0][:2] == keys[1][:2] and None not in sides:
            return sides[0]
        order = [natural(key_text({"p": k[1], "q": k[2]}, ("p", "q"))) for k in keys]
        if keys[0][0] != keys[1][0] or order[0] == order[1]:
            return None
        return int(order[0] > order[1])


def _labels(table: pa.Table, columns: tuple[str, ...]) -> list[tuple[str, ...]]:
    return list(zip(*(table[c].to_pylist() for c in columns), strict=True))
