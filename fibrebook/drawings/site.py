"""A site as a schematic: buildings as boxes with their rooms, enclosures and equipment; cables with what is spare."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise
from typing import Any

from fibrebook.drawings.layers import Placed, placed
from fibrebook.drawings.path import rows_of
from fibrebook.drawings.svg import GROUND, INK, QUIET, RULE, Canvas, Picture, fit

MARGIN, TOP = 24, 84
BOX, TAG, LANE = 236, 172, 36  # widths of a building, of a cable's tag, of the free lane between layers
ROW, HEAD, PAD, GAP = 30, 28, 8, 20
TAG_HEIGHT, BAR = 56, 12
USED, READY, OTHER, UNFIT = "#1f3a5f", "#bfe3c0", "#e6e6e6", "#8c1c13"
UNFIT_FILL = "reserved-or-faulty"


@dataclass
class Building:
    """One box: its lines (text, kind of record, label), and the height of each enclosure's line below its top."""

    name: str
    lines: list[tuple[str, str, str]] = field(default_factory=list)
    at: dict[str, float] = field(default_factory=dict)

    @property
    def height(self) -> float:
        """Height of the box in pixels."""
        return HEAD + ROW * len(self.lines) + PAD


def site_schematic(places: Any, cables: Any, title: str = "Site") -> Picture:
    """Draw the rows of `site_places` and `site_cables` (DataFrames, Arrow tables or dicts).

    Boxes, cables, enclosures and equipment are parts of the picture that a screen may make clickable: each carries
    data-kind and data-label.
    """
    cable_rows = rows_of(cables)
    boxes = _buildings(rows_of(places), cable_rows)
    home = {label: box.name for box in boxes.values() for label in box.at}
    joined = [c for c in cable_rows if _ends(c, home) and len(set(_ends(c, home))) == 2]
    heights: dict[Any, float] = {n: b.height for n, b in boxes.items()}
    heights |= {("joint", j): TAG_HEIGHT for j in range(len(joined))}
    spots = placed(list(boxes), [_ends(c, home) for c in joined], heights, GAP)
    left = _lefts(spots)
    last = max(spots.layer.values(), default=0)
    width = max(900.0, left[last] + BOX + MARGIN)
    canvas = Canvas(width, TOP + spots.height + MARGIN, title, _site_in_words(boxes, cable_rows))
    canvas.root.set("role", "group")
    canvas.root.set("aria-label", title)
    _legend(canvas, title, cable_rows)
    for j, cable in enumerate(joined):
        _way(canvas, cable, spots.chains.get(j, []), spots, left, boxes)
    for box in boxes.values():
        _box(canvas, box, left[spots.layer[box.name]], TOP + spots.top[box.name])
    for j, cable in enumerate(joined):
        _tag(canvas, cable, left[spots.layer[("joint", j)]], TOP + spots.top[("joint", j)])
    return canvas.picture()


def _ends(cable: Mapping[str, Any], home: Mapping[str, str]) -> tuple[Any, ...]:
    ends = (home.get(cable["a_enclosure"] or ""), home.get(cable["b_enclosure"] or ""))
    return ends if all(ends) else ()


def _buildings(places: Sequence[Mapping[str, Any]], cables: Sequence[Mapping[str, Any]]) -> dict[str, Building]:
    boxes: dict[str, Building] = {}
    for name, rows in groupby(places, key=lambda r: str(r["building"])):
        box = boxes.setdefault(name, Building(name))
        for location, things in groupby(rows, key=lambda r: r["location"]):
            listed = list(things)
            room = ": ".join(dict.fromkeys(filter(None, (location if location != name else "", listed[0]["room"]))))
            premises = f" ({listed[0]['premises']})" if listed[0]["premises"] else ""
            if room or premises:
                box.lines.append((f"{room}{premises}", "location", location or ""))
            for thing in listed:
                if not thing["kind"]:
                    continue
                box.at[thing["label"]] = HEAD + ROW * len(box.lines) + ROW / 2
                box.lines.append((f"{thing['label']}  {thing['what'] or ''}", thing["kind"], thing["label"]))
    home = {label: name for name, box in boxes.items() for label in box.at}
    for cable in cables:
        a, b = cable["a_enclosure"] or "", cable["b_enclosure"] or ""
        if a in home and b in home and home[a] != home[b]:
            continue
        where = home.get(a) or home.get(b)
        if where:
            way = f"{a} to {b}" if a and b and a != b else f"loop in {a}" if a == b else f"{a or b} to nowhere"
            words = f"{cable['cable']}: {way}, {cable['used']} of {cable['total']} used"
            boxes[where].lines.append((words, "cable", cable["cable"]))
    return boxes


def _lefts(spots: Placed) -> dict[int, float]:
    left, x = {}, float(MARGIN)
    for at in range(max(spots.layer.values(), default=0) + 1):
        left[at] = x
        x += _width(at) + LANE
    return left


def _width(layer: int) -> float:
    return TAG if layer % 2 else BOX  # cables stand between buildings: every other layer is theirs


def _legend(canvas: Canvas, title: str, cables: Sequence[Mapping[str, Any]]) -> None:
    canvas.text(MARGIN, 30, fit(title, canvas.width - 2 * MARGIN, 17, 1)[0], 17, font_weight="bold")
    x = float(MARGIN)
    unfit = canvas.stripes(UNFIT_FILL, UNFIT, 6)
    for fill, words in ((USED, "cores used"), (READY, "ready"), (OTHER, "other spare"), (unfit, "reserved or faulty")):
        canvas.rect(x, 48, 22, BAR + 2, fill=fill, stroke=INK, stroke_width=1)
        canvas.text(x + 28, 60, words, 13)
        x += 54 + len(words) * 7.4
    total, used = (sum(c[n] for c in cables) for n in ("total", "used"))
    canvas.text(x, 60, f"{len(cables)} cables, {used} of {total} cores used", 13, fill=QUIET)


def _part(canvas: Canvas, kind: str, label: str, said: str) -> dict[str, str]:
    return {
        "data_kind": kind,
        "data_label": label,
        "aria_label": said,
        "role": "button",
        "tabindex": "0",
        "class_": "fb-part",
    }


def _box(canvas: Canvas, box: Building, x: float, y: float) -> None:
    canvas.rect(x, y, BOX, box.height, fill="#f4f6f8", stroke=INK, stroke_width=2, rx=6)
    canvas.text(x + 10, y + 18, fit(box.name, BOX - 20, 14, 1)[0], 14, font_weight="bold")
    for i, (words, kind, label) in enumerate(box.lines):
        top = y + HEAD + i * ROW
        if kind == "location":
            canvas.text(x + 10, top + 20, fit(words, BOX - 20, 12, 1)[0], 12, fill=QUIET)
            continue
        fill = GROUND if kind != "equipment" else "#e8eef5"
        canvas.rect(
            x + 8,
            top + 1,
            BOX - 16,
            ROW - 3,
            fill=fill,
            stroke=RULE,
            rx=3,
            **_part(canvas, kind, label, f"{kind} {words}"),
        )
        canvas.text(x + 16, top + 19, fit(words, BOX - 32, 13, 1)[0], 13, pointer_events="none")


def _tag(canvas: Canvas, cable: Mapping[str, Any], x: float, y: float) -> None:
    words = f"cable {cable['cable']}, {_counts(cable)}"
    canvas.rect(
        x,
        y,
        TAG,
        TAG_HEIGHT,
        fill=GROUND,
        stroke=INK,
        stroke_width=1.5,
        rx=4,
        **_part(canvas, "cable", cable["cable"], words),
    )
    about = ", ".join(
        filter(None, [cable["fibre_class"], f"{cable['length_m']:g} m" if cable["length_m"] is not None else ""])
    )
    canvas.text(x + 8, y + 16, fit(cable["cable"], TAG - 16, 13, 1)[0], 13, font_weight="bold", pointer_events="none")
    canvas.text(x + TAG - 8, y + 16, about, 12, fill=QUIET, text_anchor="end", pointer_events="none")
    total, at = max(cable["total"], 1), x + 8
    other = cable["spare"] - cable["ready"]
    unfit = cable["total"] - cable["used"] - cable["spare"]
    for count, fill in ((cable["used"], USED), (cable["ready"], READY), (other, OTHER), (unfit, f"url(#{UNFIT_FILL})")):
        part = (TAG - 16) * count / total
        if part > 0:
            canvas.rect(at, y + 22, part, BAR, fill=fill, stroke=INK, stroke_width=0.8, pointer_events="none")
            at += part
    canvas.text(x + 8, y + 48, _counts(cable), 12, pointer_events="none")


def _counts(cable: Mapping[str, Any]) -> str:
    return f"{cable['used']} used, {cable['ready']} ready, of {cable['total']}"


def _way(
    canvas: Canvas, cable: Mapping[str, Any], chain: Sequence[Any], spots: Placed, left: Mapping[int, float],
    boxes: Mapping[str, Building],
) -> None:  # fmt: skip
    """Draw a cable's line from its enclosure at end A through its tag to the enclosure at end B."""
    if not chain:
        return
    ends = {chain[0]: cable["a_enclosure"], chain[-1]: cable["b_enclosure"]}
    points = []  # of each node, where the line comes in on the left and goes out on the right
    for node in chain:
        x, y = left[spots.layer[node]], TOP + spots.top[node]
        if node in boxes:
            y += boxes[node].at[ends[node]]
            points.append(((x, y), (x + BOX, y)))
        elif node[0] == "joint":
            points.append(((x, y + TAG_HEIGHT / 2), (x + TAG, y + TAG_HEIGHT / 2)))
        else:
            points.append(((x, y), (x + _width(spots.layer[node]), y)))
    path = ""
    for (here, there), (a, b) in zip(pairwise(points), pairwise(chain), strict=True):
        goes_right = spots.layer[a] < spots.layer[b]
        (x1, y1), (x2, y2) = (here[1], there[0]) if goes_right else (here[0], there[1])
        bend = (x2 - x1) / 2
        path += f"M{x1:.1f} {y1:.1f} C{x1 + bend:.1f} {y1:.1f} {x2 - bend:.1f} {y2:.1f} {x2:.1f} {y2:.1f} "
        if b not in boxes and b[0] == "dummy":
            path += f"M{there[0][0]:.1f} {y2:.1f} H{there[1][0]:.1f} "
    canvas.add("path", d=path.strip(), fill="none", stroke=INK, stroke_width=2)


def _site_in_words(boxes: Mapping[str, Building], cables: Sequence[Mapping[str, Any]]) -> str:
    places = "; ".join(f"{b.name}: {', '.join(b.at) or 'nothing in it'}" for b in boxes.values())
    ways = "; ".join(
        f"cable {c['cable']} from {c['a_enclosure'] or 'nowhere'} to {c['b_enclosure'] or 'nowhere'}, {_counts(c)}"
        for c in cables
    )
    return f"{places}. {ways}."
