"""Random plants written as lists of many shapes, and what is true of each: for the reader's property tests."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

from fibrebook.reference.colours import order, read_colour

COUNTS = (4, 6, 8, 12, 24)
HEADS = {
    "cable": ("Cable", "Cable No", "Kabel", "Cable ref", "CABLE"), "core": ("Core", "Core No.", "Ader", "Fibre", "Fibre no"),
    "colour": ("Colour", "Color", "Farbe", "Col."), "panel": ("Panel", "Patch panel", "ODF"), "port": ("Port", "Port No", "Adaptor"),
    "both": ("Panel/Port", "Panel / port"), "remark": ("Remarks", "Notes", "Comment"),
}  # fmt: skip
SHORT = {"blue": "BL", "orange": "OR", "green": "GN", "brown": "BR", "slate": "SL", "white": "WH", "red": "RD", "black": "BK",
         "yellow": "YL", "violet": "VI", "rose": "RS", "aqua": "AQ"}  # fmt: skip
Made = tuple[str, str, str, int]  # enclosure, port, cable, core


@dataclass
class Written:
    """A list's rows, the terminations and counts of cores that are true, and what was done to it."""

    rows: list[list[str]]
    made: set[Made] = field(default_factory=set)
    counts: dict[str, int] = field(default_factory=dict)
    slip: str = ""

    @property
    def text(self) -> str:
        """The list as a text with tabs."""
        return "\n".join("\t".join(row) for row in self.rows)


@dataclass
class Cable:
    """One cable: its cores' ports at each end, None where a core is not made off."""

    name: str
    count: int
    panels: tuple[str, str]
    ports: list[tuple[int | None, int | None]]


def plant(rng: random.Random) -> list[Cable]:
    """A few cables between panels; ports follow one another, and some cores at the end are not made off."""
    cables, used = [], {}
    for n in range(rng.randint(1, 3)):
        count = rng.choice(COUNTS)
        panels = (rng.choice(("P1", "P2")), f"WB{n + 1}")
        made = count - rng.choice((0, 0, 0, 1, 2))
        starts = [used.get(p, 0) for p in panels]
        far = made if rng.random() < 0.8 else made // 2
        ports = [
            (starts[0] + i + 1 if i < made else None, starts[1] + i + 1 if i < far else None) for i in range(count)
        ]
        for p, s in zip(panels, starts, strict=True):
            used[p] = s + made
        cables.append(Cable(f"C{n + 1}", count, panels, ports))
    return cables


def write(seed: int, slip: str = "") -> Written:
    """Write a random plant as a list of a random shape; `slip`: the kind of slip to sow in it."""
    rng = random.Random(seed)
    cables = plant(rng)
    head = {role: rng.choice(words) for role, words in HEADS.items()}
    ends = rng.choice((1, 2)) if not slip else 2
    joined, colours = rng.random() < 0.5, rng.random() < 0.6
    titled = rng.random() < 0.5
    lacking = rng.choice(("", "-", "n/t", "spare"))
    out = Written([["Site: Tannery"], []])
    lines = []
    for cable in cables:
        own = [_line(cable, n, ends, joined, colours, lacking, rng) for n in range(cable.count)]
        lines.append(own)
        out.counts[cable.name] = cable.count
        for core, at in enumerate(cable.ports, 1):
            out.made |= {
                (p, str(port), cable.name, core) for p, port in zip(cable.panels[:ends], at, strict=False) if port
            }
    heading = [head["core"], *([head["colour"]] if colours else [])]
    for end in range(ends):
        word = ("End A ", "End B ")[end] if ends == 2 else ""
        heading += [word + head["both"]] if joined else [word + head["panel"], word + head["port"]]
    if not titled:
        heading = [head["cable"], *heading]
    if slip:
        _sow(slip, cables, lines, heading, rng, out)
    across = titled and not slip and rng.random() < 0.3
    for cable, own in zip(cables, lines, strict=True):
        if titled:
            out.rows.append([f"Cable {cable.name}"])
            table = [heading, *own]
            out.rows += [list(row) for row in zip(*table, strict=True)] if across else table
            out.rows.append([])
    if not titled:
        filled = rng.random() < 0.5 or bool(slip)
        out.rows.append(heading)
        for cable, own in zip(cables, lines, strict=True):
            out.rows += [[cable.name if filled or not i else "", *row] for i, row in enumerate(own)]
            if rng.random() < 0.3:
                out.rows.append([])
    return out


def _line(cable: Cable, n: int, ends: int, joined: bool, colours: bool, lacking: str, rng: random.Random) -> list[str]:
    row = [str(n + 1)]
    if colours:
        word = order("TIA-598")[n % 12]
        row.append(rng.choice((word, word.capitalize(), SHORT[word], read_colour(word) or word)))
    for panel, port in zip(cable.panels[:ends], cable.ports[n], strict=False):
        if joined:
            row.append(f"{panel}/{port}" if port else lacking)
        else:
            row += [panel if port else lacking, str(port) if port else lacking]
    return row


SLIPS = ("core twice", "port twice", "one too many", "colour", "swap", "number", "missing")


def _sow(
    slip: str, cables: list[Cable], lines: list[list[list[str]]], heading: list[str], rng: random.Random, out: Written
) -> None:
    """Sow one slip into the longest cable's lines; `out.slip` says so where there was room for it."""
    at = max(range(len(cables)), key=lambda i: cables[i].count)
    own, cable = lines[at], cables[at]
    made = [i for i, ports in enumerate(cable.ports) if ports[0] and ports[1]]
    offset = 0 if heading[0] in HEADS["core"] else 1
    colour = next((i - offset for i, h in enumerate(heading) if h in HEADS["colour"]), None)
    port = next((i - offset for i, h in enumerate(heading) if "End A" in h and not h.endswith(HEADS["panel"])), None)
    if len(made) < 6 or port is None or (slip == "colour" and colour is None):
        return
    i = rng.choice(made[1:-2])
    out.slip = slip
    if slip == "core twice":
        own[i][0] = own[i + 1][0]
    elif slip == "port twice":
        own[i][port] = own[i + 1][port]
    elif slip == "one too many":
        own.append(own[-1].copy())
        own[-1][0] = str(cable.count + 1)
    elif slip == "colour":
        assert colour is not None
        own[i][colour] = "blue" if "bl" not in own[i][colour].casefold() else "orange"
    elif slip == "swap":
        own[i][port], own[i + 1][port] = own[i + 1][port], own[i][port]
    elif slip == "number":
        own[i][port] = f"{own[i][port][:-1]}99" if "/" in own[i][port] else "99"
    elif slip == "missing":
        own.pop(i)
