"""One path from end to end: equipment, panels, cords, cores with their colours, splices, lengths and losses."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fibrebook.drawings.fibre import draw_fibre
from fibrebook.drawings.svg import GROUND, INK, QUIET, RULE, Canvas, Picture, fit

WIDTH, MARGIN, TOP = 1240, 24, 64
CELL = {"interface": 130, "port": 114, "splice": 104, "cord": 122, "core": 196, "loose end": 96}
LOSES = ("cord", "port", "splice", "core")  # where one of these has no loss, the whole is at least the rest
ABOVE, BELOW = 46, 40  # room over the fibre for the mark of what was asked for; from the fibre down to the words
LINE = 15.6
MORE = 70  # room behind a row for the word that it goes on

Step = Mapping[str, Any]


@dataclass(frozen=True)
class Lane:
    """One row of elements, and how deep their words reach."""

    steps: list[Step]
    depth: float


def path_picture(rows: Any, title: str = "Path from end to end") -> Picture:
    """Draw the rows of `trace` (a DataFrame, an Arrow table or dicts) in order, several rows where it is long.

    Fibre is drawn in the colours of its tube and core, which are also written out; the element asked for is framed and
    marked. A row may have `here`, 0 to 1: how far along the element a place lies, which is then marked.
    """
    steps = rows_of(rows)
    lanes = _lanes(steps) if steps else []
    height = TOP + sum(ABOVE + BELOW + lane.depth + 14 for lane in lanes)
    canvas = Canvas(WIDTH, height, title, told(steps))
    canvas.text(MARGIN, 30, fit(title, 760, 17, 1)[0], 17, font_weight="bold")
    canvas.text(WIDTH - MARGIN, 30, _sum(steps), 13, fill=QUIET, text_anchor="end")
    top = float(TOP)
    for number, lane in enumerate(lanes):
        _lane(canvas, lane, top + ABOVE, number > 0, number + 1 < len(lanes), _ends(steps))
        top += ABOVE + BELOW + lane.depth + 14
    return canvas.picture()


def _lanes(steps: Sequence[Step]) -> list[Lane]:
    rows: list[list[Step]] = [[]]
    used = 0.0
    for step in steps:
        if rows[-1] and used + CELL[step["kind"]] > WIDTH - 2 * MARGIN - MORE:
            rows.append([])
            used = 0.0
        rows[-1].append(step)
        used += CELL[step["kind"]]
    return [Lane(row, LINE * max((len(_said(s)) for s in row), default=0)) for row in rows]


def _ends(steps: Sequence[Step]) -> dict[int, str]:
    """Say what a path ends in where no element of its own tells it: id of the first or last row -> words."""
    if not steps:
        return {}
    first, last = steps[0], steps[-1]
    if first["kind"] == "core" and last["kind"] in ("splice", "cord"):
        return {id(last): "back to the first: a loop"}
    return {id(s): "bare end" for s in (first, last) if s["kind"] == "core"}


def _lane(canvas: Canvas, lane: Lane, y: float, goes_before: bool, goes_after: bool, ends: dict[int, str]) -> None:
    x = float(MARGIN)
    if goes_before:
        canvas.text(x - 18, y + 5, "▶", 13, fill=QUIET)
    for number, step in enumerate(lane.steps):
        width = CELL[step["kind"]]
        if step.get("start"):
            _frame(canvas, x, y, width, BELOW + lane.depth + 4)
        if known(step.get("here")):
            _here(canvas, x + 2 + (width - 4) * step["here"], y)
        _draw(canvas, step, x, y, (number > 0 or goes_before, number + 1 < len(lane.steps) or goes_after))
        for i, (words, bold) in enumerate(_said(step)):
            style = {"font_weight": "bold"} if bold else {"fill": QUIET}
            canvas.text(x + 8, y + BELOW + i * LINE, words, 12, **style)
        x += width
    first, last = ends.get(id(lane.steps[0])), ends.get(id(lane.steps[-1]))
    if goes_after:
        canvas.text(x + 6, y + 5, "on below ▼", 12, fill=QUIET)
    elif last:
        canvas.text(x + 14, y + 5, last, 12, font_weight="bold")
    if first and not goes_before:
        canvas.text(MARGIN, y - 16 if not lane.steps[0].get("start") else y - ABOVE - 2, first, 12, font_weight="bold")


def _frame(canvas: Canvas, x: float, y: float, width: float, depth: float) -> None:
    canvas.rect(
        x + 1, y - ABOVE + 4, width - 2, ABOVE + depth, fill="none", stroke=INK, stroke_width=2, stroke_dasharray="6 3",
        rx=6,
    )  # fmt: skip
    canvas.text(x + 8, y - ABOVE + 18, "▼ asked for", 12, font_weight="bold")


def _here(canvas: Canvas, x: float, y: float) -> None:
    canvas.line(x, y - ABOVE + 22, x, y + 22, stroke=INK, stroke_width=3)
    canvas.text(x, y - ABOVE + 34 - 14, "▼ here", 12, text_anchor="middle", font_weight="bold")


def _draw(canvas: Canvas, step: Step, x: float, y: float, joined: tuple[bool, bool]) -> None:
    """Draw one element and, where something is joined to it, the lines that lead to its neighbours."""
    width = CELL[step["kind"]]
    middle = x + width / 2
    for is_joined, edge in zip(joined, (x, x + width), strict=True):
        if is_joined:
            canvas.line(edge, y, middle, y, stroke=RULE, stroke_width=2)
    SHAPES[step["kind"]](canvas, step, x, y, width)


def _box(round_: float) -> Callable[[Canvas, Step, float, float, float], None]:
    def draw(canvas: Canvas, step: Step, x: float, y: float, width: float) -> None:
        canvas.rect(x + 8, y - 20, width - 16, 40, fill="#eef2f6", stroke=INK, stroke_width=1.5, rx=round_)
        name = fit(step["name"] or "", width - 20, 13, 1)[0]
        canvas.text(x + width / 2, y + 5, name, 13, text_anchor="middle", font_weight="bold")

    return draw


def _core(canvas: Canvas, step: Step, x: float, y: float, width: float) -> None:
    draw_fibre(canvas, step.get("colour") or "", x + 2, y, width - 4)


def _cord(canvas: Canvas, _: Step, x: float, y: float, width: float) -> None:
    canvas.line(x, y, x + width, y, stroke=INK, stroke_width=3, stroke_dasharray="10 4")


def _splice(canvas: Canvas, _: Step, x: float, y: float, width: float) -> None:
    shape = f"M{x + width / 2 - 11:.1f} {y:.1f} l11 -11 l11 11 l-11 11 z"
    canvas.add("path", d=shape, fill=GROUND, stroke=INK, stroke_width=2)


def _loose(canvas: Canvas, _: Step, x: float, y: float, width: float) -> None:
    canvas.add("circle", cx=x + width / 2, cy=y, r=6, fill=GROUND, stroke=INK, stroke_width=2)


SHAPES: dict[str, Callable[[Canvas, Step, float, float, float], None]] = {
    "interface": _box(12),
    "port": _box(3),
    "core": _core,
    "cord": _cord,
    "splice": _splice,
    "loose end": _loose,
}


def _said(step: Step) -> list[tuple[str, bool]]:
    """Return the lines under an element, each with whether it is bold."""
    width = CELL[step["kind"]] - 14
    head = {"interface": step["at"], "port": f"port of {step['at']}", "core": f"{step['at']} core {step['name']}"}
    label = head.get(step["kind"]) or f"{step['kind']} {step['at']}/{step['name']}"
    lines = [(line, True) for line in fit(label, width, 12.5, 3)]
    for text in filter(None, [step.get("colour"), step.get("location"), *_figures(step)]):
        lines += [(line, False) for line in fit(text, width, 12, 3)]
    return lines


def _figures(step: Step) -> list[str]:
    length, loss, basis = step.get("length_m"), step.get("loss_db"), step.get("basis")
    return [
        f"{length:g} m" if length is not None else "",
        f"{loss:.2f} dB" if loss else "",
        basis or "" if loss else "",
    ]


def _sum(steps: Sequence[Step]) -> str:
    metres = sum(s["length_m"] for s in steps if known(s.get("length_m")))
    loss = sum(s["loss_db"] for s in steps if known(s.get("loss_db")))
    at = next((s["wavelength_nm"] for s in steps if known(s.get("wavelength_nm"))), None)
    lacks = any(not known(s.get("loss_db")) for s in steps if s["kind"] in LOSES)
    total = f"{metres:g} m, {'at least ' if lacks else ''}{loss:.2f} dB"
    return total + (f" at {at:.0f} nm, worst case" if at else "")


def told(steps: Sequence[Step]) -> str:
    """The path in words, for those who do not see the picture."""
    names = [
        ", ".join(filter(None, [f"{s['kind']} {s['at']}/{s['name']}", s.get("colour"), s.get("location")]))
        for s in steps
    ]
    return f"From end to end: {'; '.join(names)}. In all {_sum(steps)}."


def known(value: Any) -> bool:
    """Whether a figure is there."""
    return value is not None and value == value


def rows_of(rows: Any) -> list[dict[str, Any]]:
    """Rows as dicts, from a DataFrame, an Arrow table or dicts; what is missing is None."""
    if hasattr(rows, "to_pylist"):
        rows = rows.to_pylist()
    elif hasattr(rows, "to_dict"):
        rows = rows.astype(object).to_dict("records")
    return [{k: v if known(v) else None for k, v in dict(row).items()} for row in rows]
