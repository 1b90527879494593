"""One path from end to end: equipment, panels, cords, cores with their colours, splices, lengths and losses."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from fibrebook.drawings.svg import INK, QUIET, RULE, Canvas, Picture, fit
from fibrebook.reference.colours import hex_of

WIDTH, MARGIN, ROW = 1240, 24, 178
CELL = {"interface": 128, "port": 104, "splice": 84, "cord": 104, "core": 190, "loose end": 90}
LINES = {"core", "cord"}
COLOUR = re.compile(r"(?:^|, )(?P<colour>[\w ]+?) core(?: with (?P<tracer>.*))?$")


def path_picture(rows: Sequence[Mapping[str, Any]] | Any, title: str = "Path from end to end") -> Picture:
    """Draw the rows of `trace` (a DataFrame, an Arrow table or dicts) in order, several rows where it is long.

    Fibre is drawn in the core's colour, which is also written out; the element asked for is framed and marked.
    """
    steps = rows_of(rows)
    lanes: list[list[Mapping[str, Any]]] = [[]]
    used = 0.0
    for step in steps:
        if used + CELL[step["kind"]] > WIDTH - 2 * MARGIN and lanes[-1]:
            lanes.append([])
            used = 0.0
        lanes[-1].append(step)
        used += CELL[step["kind"]]
    canvas = Canvas(WIDTH, 56 + ROW * len(lanes), title, told(steps))
    canvas.text(MARGIN, 30, title, 17, font_weight="bold")
    canvas.text(WIDTH - MARGIN, 30, _sum(steps), 13, fill=QUIET, text_anchor="end")
    for i, lane in enumerate(lanes):
        x, y = float(MARGIN), 56 + ROW * i + 44
        if i:
            canvas.text(x - 14, y + 4, "→", 14, fill=QUIET)
        for element in lane:
            _step(canvas, element, x, y)
            x += CELL[element["kind"]]
        if i + 1 < len(lanes):
            canvas.text(WIDTH - MARGIN, y + ROW - 66, "goes on below ↓", 12, fill=QUIET, text_anchor="end")
    return canvas.picture()


def _step(canvas: Canvas, step: Mapping[str, Any], x: float, y: float) -> None:
    width = CELL[step["kind"]]
    if step.get("start"):
        canvas.rect(
            x + 1, y - 42, width - 2, ROW - 16, fill="none", stroke=INK, stroke_width=2, stroke_dasharray="6 3", rx=6
        )
        canvas.text(x + 8, y - 28, "▼ asked for", 11, font_weight="bold")
    if step["kind"] in LINES:
        _fibre(canvas, step, x, y, width)
    elif step["kind"] == "splice":
        canvas.line(x, y, x + width, y, stroke=RULE, stroke_width=2)
        canvas.add(
            "path", d=f"M{x + width / 2 - 11} {y} l11 -11 l11 11 l-11 11 z", fill="#ffffff", stroke=INK, stroke_width=2
        )
    elif step["kind"] == "loose end":
        canvas.line(x, y, x + width / 2, y, stroke=RULE, stroke_width=2)
        canvas.add("circle", cx=x + width / 2, cy=y, r=6, fill="#ffffff", stroke=INK, stroke_width=2)
    else:
        canvas.line(x, y, x + width, y, stroke=RULE, stroke_width=2)
        round_ = 3 if step["kind"] == "port" else 12
        canvas.rect(x + 8, y - 20, width - 16, 40, fill="#eef2f6", stroke=INK, stroke_width=1.5, rx=round_)
        canvas.text(
            x + width / 2, y + 5, _short(step["name"], width - 20), 13, text_anchor="middle", font_weight="bold"
        )
    _words(canvas, step, x, y, width)


def _fibre(canvas: Canvas, step: Mapping[str, Any], x: float, y: float, width: float) -> None:
    found = COLOUR.search(step.get("colour") or "")
    if step["kind"] == "cord" or not found:
        canvas.line(x, y, x + width, y, stroke=INK, stroke_width=3, stroke_dasharray=None if found else "10 4")
        return
    canvas.line(x, y, x + width, y, stroke=INK, stroke_width=12)
    canvas.line(x, y, x + width, y, stroke=hex_of(found["colour"]) or "#ffffff", stroke_width=9)
    if found["tracer"]:
        mark = "#f2d600" if "yellow" in found["tracer"] else "#000000"
        canvas.line(x, y, x + width, y, stroke=mark, stroke_width=3, stroke_dasharray="14 10")


def _words(canvas: Canvas, step: Mapping[str, Any], x: float, y: float, width: float) -> None:
    left, at = x + 8, y + 38
    head = {"interface": step["at"], "port": step["at"], "core": f"{step['at']} core {step['name']}"}
    label = head.get(step["kind"]) or f"{step['kind']} {step['at']}/{step['name']}"
    at = canvas.lines(left, at, fit(label, width - 12, 12, 3), 12, font_weight="bold")
    more = [step.get("colour"), step.get("location"), _figures(step)]
    for text in filter(None, more):
        at = canvas.lines(left, at, fit(text, width - 12, 12, 3), 12, fill=QUIET)


def _figures(step: Mapping[str, Any]) -> str:
    length, loss, basis = step.get("length_m"), step.get("loss_db"), step.get("basis")
    parts = [
        f"{length:g} m" if known(length) else "",
        f"{loss:.2f} dB {basis or ''}".strip() if known(loss) and loss else "",
    ]
    return ", ".join(filter(None, parts))


def _short(words: str, width: float) -> str:
    return fit(words or "", width, 13, 1)[0]


def _sum(steps: Sequence[Mapping[str, Any]]) -> str:
    metres = sum(s["length_m"] for s in steps if known(s.get("length_m")))
    loss = sum(s["loss_db"] for s in steps if known(s.get("loss_db")))
    at = next((s["wavelength_nm"] for s in steps if known(s.get("wavelength_nm"))), None)
    return f"{metres:g} m, {loss:.2f} dB" + (f" at {at:.0f} nm, worst case" if at else "")


def told(steps: Sequence[Mapping[str, Any]]) -> str:
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
        return list(rows.to_pylist())
    if hasattr(rows, "to_dict"):
        rows = rows.astype(object).to_dict("records")
    return [{k: v if known(v) else None for k, v in dict(row).items()} for row in rows]
