"""A control chart of splices: each loss in the order of making, with the limits that its group keeps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fibrebook.drawings.path import known, rows_of
from fibrebook.drawings.svg import INK, QUIET, Canvas, Picture

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 960, 380, 66, 30, 66, 46
BAND, OUT = "#e6eef7", "#b3261e"
LAST = 400  # splices drawn at most: the newest; more would be a smear


def control_chart(rows: Any, title: str = "Splice loss in the order of making") -> Picture:
    """Draw the rows of `splice_chart` (one group): points, mean, limits, and a cross on what lies outside.

    Read: a point outside the band is worth a look at that joint; many in a row on one side are worth a look at the
    machine, its electrodes and cleaver.
    """
    found = [r for r in rows_of(rows) if r["loss_db"] is not None]
    shown = found[-LAST:]
    outside = [r for r in shown if r["outside"]]
    told = f"{len(shown)} splices, {len(outside)} outside the limits"
    if shown:
        told += f"; mean {shown[-1]['centre_db']:.3f} dB, upper limit {_db(shown[-1]['upper_db'])}"
    canvas = Canvas(WIDTH, HEIGHT, title, told)
    canvas.text(LEFT, 30, title, 17, font_weight="bold")
    canvas.text(LEFT, 50, told, 12, fill=QUIET)
    if not shown:
        return canvas.picture()
    low = min(0.0, *(r["loss_db"] for r in shown))
    high = max(0.1, *(r["loss_db"] for r in shown), *(r["upper_db"] for r in shown if known(r["upper_db"])))
    scale = (HEIGHT - TOP - BOTTOM) / (high - low)

    def y(value: float) -> float:
        found: float = HEIGHT - BOTTOM - (value - low) * scale
        return found

    _limits(canvas, shown[-1], low, high, y)
    step = (WIDTH - LEFT - RIGHT) / max(len(shown), 2)
    for i, row in enumerate(shown):
        _point(canvas, LEFT + (i + 0.5) * step, y(row["loss_db"]), bool(row["outside"]))
    _axes(canvas, shown, low, high, y)
    return canvas.picture()


def _db(value: float | None) -> str:
    return f"{value:.3f} dB" if known(value) else "not known (one splice)"


def _limits(canvas: Canvas, row: dict[str, Any], low: float, high: float, y: Any) -> None:
    upper, lower = row["upper_db"], row["lower_db"]
    if known(upper) and known(lower):
        top, bottom = y(min(upper, high)), y(max(lower, low))
        canvas.rect(LEFT, top, WIDTH - LEFT - RIGHT, bottom - top, fill=BAND)
        canvas.text(WIDTH - RIGHT - 4, top - 4, "upper limit", 12, fill=QUIET, text_anchor="end")
    centre = y(row["centre_db"])
    canvas.line(LEFT, centre, WIDTH - RIGHT, centre, stroke=QUIET, stroke_dasharray="6 4")
    canvas.text(WIDTH - RIGHT - 4, centre - 4, "mean", 12, fill=QUIET, text_anchor="end")


def _point(canvas: Canvas, x: float, y: float, outside: bool) -> None:
    if outside:
        for way in (-1, 1):
            canvas.line(x - 5, y - 5 * way, x + 5, y + 5 * way, stroke=OUT, stroke_width=2)
    else:
        canvas.add("circle", cx=x, cy=y, r=2.5, fill=INK)


def _axes(canvas: Canvas, shown: Sequence[dict[str, Any]], low: float, high: float, y: Any) -> None:
    canvas.line(LEFT, TOP, LEFT, HEIGHT - BOTTOM)
    canvas.line(LEFT, y(0.0), WIDTH - RIGHT, y(0.0))
    for k in range(5):
        value = low + (high - low) * k / 4
        canvas.text(LEFT - 8, y(value) + 4, f"{value:.2f}", 12, text_anchor="end")
    canvas.text(8, TOP - 6, "dB", 12, fill=QUIET)
    for row, x, anchor in ((shown[0], LEFT, "start"), (shown[-1], WIDTH - RIGHT, "end")):
        if known(row["made_on"]):
            canvas.text(x, HEIGHT - 14, f"{row['made_on']:%Y-%m-%d}", 12, text_anchor=anchor)
    canvas.text(WIDTH / 2, HEIGHT - 14, "cross: outside the limits", 12, fill=QUIET, text_anchor="middle")
