"""Bars: every site's cores by state, and every channel's loss against what it may lose."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fibrebook.drawings.path import known, rows_of
from fibrebook.drawings.svg import INK, QUIET, Canvas, Picture, fit

WIDTH, MARGIN, LABEL, BAR = 1240, 24, 210, 26
# State columns in the order of the bar: in words, fill, hatched or plain, text on it. Lightness and hatching tell them
# apart without colour; the numbers stand on them.
STATES = (
    ("in_service", "in service", "#1f3a5f", 0, "#ffffff"),
    ("patched", "patched", "#4f7cac", 0, "#ffffff"),
    ("reserved", "reserved", "#7a5c9e", 8, INK),
    ("faulty", "faulty", "#8c1c13", 0, "#ffffff"),
    ("ready", "ready", "#bfe3c0", 0, INK),
    ("half_terminated", "half-terminated", "#d9a441", 8, INK),
    ("unterminated", "unterminated", "#e6e6e6", 0, INK),
)


def spare_bars(rows: Any, title: str = "Cores by state, fewest spare first") -> Picture:
    """Draw the rows of `spare(by="site")` or `(by="cable")`: one bar a row, its states as shares with their numbers."""
    found = sorted(rows_of(rows), key=lambda r: (r["spare"], -r["total"]))
    words = "; ".join(f"{_name(r)}: {r['spare']} spare of {r['total']}" for r in found)
    canvas = Canvas(WIDTH, 112 + len(found) * (BAR + 10), title, words)
    canvas.text(MARGIN, 30, title, 17, font_weight="bold")
    fills = _legend(canvas)
    width = WIDTH - 2 * MARGIN - LABEL - 170
    for i, row in enumerate(found):
        y = 92 + i * (BAR + 10)
        canvas.text(MARGIN, y + 18, fit(_name(row), LABEL - 10, 14, 1)[0], 14)
        _bar(canvas, row, fills, MARGIN + LABEL, y, width)
        told = f"{row['spare']} spare of {row['total']}" if row["spare"] else f"NONE spare of {row['total']}"
        canvas.text(MARGIN + LABEL + width + 12, y + 18, told, 14, font_weight="bold" if row["spare"] <= 2 else None)
    return canvas.picture()


def _name(row: Mapping[str, Any]) -> str:
    return f"{row['site']}, {row['cable']}" if row.get("cable") else str(row["site"])


def _legend(canvas: Canvas) -> dict[str, str]:
    x, fills = float(MARGIN), {}
    for column, words, colour, hatch, _ in STATES:
        fills[column] = canvas.stripes(f"hatch-{column}", colour, hatch) if hatch else colour
        canvas.rect(x, 50, 22, 18, fill=fills[column], stroke=INK, stroke_width=1)
        canvas.text(x + 28, 64, words, 13)
        x += 50 + len(words) * 7.6
    return fills


def _bar(canvas: Canvas, row: Mapping[str, Any], fills: dict[str, str], x: float, y: float, width: float) -> None:
    for column, words, _, hatch, text in STATES:
        count = row[column]
        part = width * count / row["total"] if row["total"] else 0
        if not part:
            continue
        box = canvas.rect(x, y, part, BAR, fill=fills[column], stroke=INK, stroke_width=1)
        box.set("aria-label", f"{count} {words}")
        if part > 9 * len(str(count)):
            if hatch:
                canvas.rect(
                    x + part / 2 - 5.5 * len(str(count)), y + 5, 11 * len(str(count)), BAR - 10, fill="#ffffff", rx=3
                )
            canvas.text(x + part / 2, y + 18, count, 13, fill=text, text_anchor="middle")
        x += part


def headroom_bars(rows: Any, title: str = "Loss against limit, tightest first", most: int = 40) -> Picture:
    """Draw the rows of `headroom`: the tightest wavelength and direction of each channel, at most so many channels."""
    found = _tightest(rows_of(rows))
    left_out = max(0, len(found) - most)
    found = found[:most]
    words = "; ".join(f"{r['site']} {r['channel']}: {_left(r)}" for r in found)
    canvas = Canvas(WIDTH, 84 + len(found) * (BAR + 8) + (24 if left_out else 0), title, words)
    canvas.text(MARGIN, 30, title, 17, font_weight="bold")
    canvas.text(MARGIN, 54, "Bar: loss. Line across it: the limit that binds.", 13, fill=QUIET)
    top = max([1.0, *(max(r["loss_db"] or 0, r["limit_db"] or 0) for r in found)])
    width = WIDTH - 2 * MARGIN - LABEL - 150 - 330
    for i, row in enumerate(found):
        y = 70 + i * (BAR + 8)
        canvas.text(MARGIN, y + 18, fit(f"{row['site']}, {row['channel']}", LABEL - 10, 14, 1)[0], 14)
        canvas.text(MARGIN + LABEL, y + 18, row["application"] or "", 13, fill=QUIET)
        _loss_bar(canvas, row, MARGIN + LABEL + 150, y, width / top)
        tight = known(row["headroom_db"]) and row["headroom_db"] < 0.5
        canvas.text(WIDTH - MARGIN - 320, y + 18, _left(row), 13, font_weight="bold" if tight else None)
    if left_out:
        canvas.text(MARGIN, 84 + len(found) * (BAR + 8), f"and {left_out} channels with more headroom", 13, fill=QUIET)
    return canvas.picture()


def _tightest(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    def key(row: Mapping[str, Any]) -> float:
        return row["headroom_db"] if known(row["headroom_db"]) else float("inf")

    best: dict[tuple[str, str], dict[str, Any]] = {}
    for row in rows:
        name = (row["site"], row["channel"])
        if name not in best or key(row) < key(best[name]):
            best[name] = row
    return sorted(best.values(), key=lambda r: (key(r), r["site"], r["channel"]))


def _loss_bar(canvas: Canvas, row: Mapping[str, Any], x: float, y: float, scale: float) -> None:
    if known(row["loss_db"]):
        over = known(row["headroom_db"]) and row["headroom_db"] < 0
        fill = canvas.stripes(f"over-{round(y)}", "#8c1c13", 8) if over else "#4f7cac"
        canvas.rect(x, y + 3, row["loss_db"] * scale, BAR - 6, fill=fill, stroke=INK, stroke_width=1)
    if known(row["limit_db"]):
        at = x + row["limit_db"] * scale
        canvas.line(at, y - 1, at, y + BAR + 1, stroke=INK, stroke_width=3)


def _left(row: Mapping[str, Any]) -> str:
    if not known(row["headroom_db"]):
        return str(row["binding"])
    if row["headroom_db"] < 0:
        return f"{-row['headroom_db']:.2f} dB OVER by {row['binding']}"
    return f"{row['headroom_db']:.2f} dB left, {row['binding']}"
