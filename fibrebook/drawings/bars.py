"""Bars: every site's cores by state, and every channel's loss against what it may lose."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from xml.etree import ElementTree as ET

from fibrebook.drawings.path import known, rows_of
from fibrebook.drawings.svg import INK, QUIET, Canvas, Picture, clean, fit

WIDTH, MARGIN, LABEL, BAR = 1240, 24, 210, 26
APPLICATION, VERDICT = 190, 396
# State columns in the order of the bar: in words, fill, hatched or plain, text on it. Lightness and hatching tell them
# apart without colour; the numbers stand on them.
STATES = (
    ("in_service", "in service", "#1f3a5f", 0, "#ffffff"),
    ("patched", "patched", "#456f9c", 0, "#ffffff"),
    ("reserved", "reserved", "#7a5c9e", 8, INK),
    ("faulty", "faulty", "#8c1c13", 0, "#ffffff"),
    ("ready", "ready", "#bfe3c0", 0, INK),
    ("half_terminated", "half-terminated", "#d9a441", 8, INK),
    ("unterminated", "unterminated", "#e6e6e6", 0, INK),
)


# Shares of a loss by how it is known, in the order of the bar.
BASES = (
    ("measured_db", "measured", "#1f3a5f", 0),
    ("recorded_db", "recorded by the splicer", "#7da3cc", 0),
    ("catalogue_db", "catalogue limit", "#4f7cac", 6),
)
OVER = "#8c1c13"


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
        box.set("role", "img")
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
    words = "; ".join(f"{r['site']} {r['channel']}: {_left(r)}, {_why(r)}" for r in found)
    canvas = Canvas(WIDTH, 100 + len(found) * (BAR + 8) + (24 if left_out else 0), title, words)
    canvas.text(MARGIN, 30, title, 17, font_weight="bold")
    fills = _loss_legend(canvas)
    top = max([1.0, *(max(r["loss_db"] or 0, r["limit_db"] or 0) for r in found)])
    width = WIDTH - 2 * MARGIN - LABEL - APPLICATION - VERDICT
    for i, row in enumerate(found):
        y = 86 + i * (BAR + 8)
        tight = known(row["headroom_db"]) and (row["headroom_db"] < 0.5 or too_long(row))
        canvas.text(MARGIN, y + 18, fit(f"{row['site']}, {row['channel']}", LABEL - 10, 14, 1)[0], 14)
        at = f"{row['application'] or ''} {row['wavelength_nm']:.0f} nm" if known(row["wavelength_nm"]) else ""
        canvas.text(MARGIN + LABEL, y + 18, fit(at, APPLICATION, 13, 1)[0], 13, fill=QUIET)
        _loss_bar(canvas, row, fills, MARGIN + LABEL + APPLICATION, y, width / top)
        x = WIDTH - MARGIN - VERDICT + 14
        if known(row["headroom_db"]):
            canvas.text(x, y + 18, _left(row), 13, font_weight="bold" if tight else None)
            beside = 128 if too_long(row) else 108  # those words are the widest
            canvas.text(x + beside, y + 18, fit(_why(row), VERDICT - beside - 10, 12, 1)[0], 12, fill=QUIET)
        else:
            canvas.text(x, y + 18, fit(_why(row), VERDICT - 14, 12, 1)[0], 12, fill=QUIET)
    if left_out:
        canvas.text(MARGIN, 100 + len(found) * (BAR + 8), f"and {left_out} channels with more headroom", 13, fill=QUIET)
    return canvas.picture()


def _loss_legend(canvas: Canvas) -> dict[str, str]:
    canvas.text(MARGIN, 62, "Worst-case loss:", 13)
    x, fills = MARGIN + 116.0, {}
    for column, words, colour, hatch in BASES:
        fills[column] = canvas.stripes(f"hatch-{column}", colour, hatch) if hatch else colour
        canvas.rect(x, 48, 22, 18, fill=fills[column], stroke=INK, stroke_width=1)
        canvas.text(x + 28, 62, words, 13)
        x += 52 + len(words) * 7.4
    fills["over"] = canvas.stripes("hatch-over", OVER, 10)
    canvas.rect(x, 48, 22, 18, fill=fills["over"], stroke=INK, stroke_width=1)
    canvas.text(x + 28, 62, "over the limit", 13)
    canvas.line(x + 148, 46, x + 148, 68, stroke=INK, stroke_width=3)
    canvas.text(x + 158, 62, "the limit that binds", 13)
    return fills


def _tightest(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    def key(row: Mapping[str, Any]) -> tuple[bool, float]:
        if not known(row["headroom_db"]):
            return True, float("inf")
        return not (row["headroom_db"] < 0 or too_long(row)), row["headroom_db"]

    best: dict[tuple[str, str], dict[str, Any]] = {}
    for row in rows:
        name = (row["site"], row["channel"])
        if name not in best or key(row) < key(best[name]):
            best[name] = row
    return sorted(best.values(), key=lambda r: (key(r), r["site"], r["channel"]))


def _loss_bar(canvas: Canvas, row: Mapping[str, Any], fills: dict[str, str], x: float, y: float, scale: float) -> None:
    limit = row["limit_db"] if known(row["limit_db"]) else None
    at = x
    for column, words, _, _ in BASES:
        part = (row[column] or 0) * scale if known(row[column]) else 0
        if part > 0:
            box = canvas.rect(at, y + 3, part, BAR - 6, fill=fills[column], stroke=INK, stroke_width=1)
            box.set("role", "img")
            box.set("aria-label", f"{row[column]:.2f} dB {words}")
            at += part
    if limit is None:
        return
    mark = x + limit * scale
    if at > mark:
        canvas.rect(mark, y + 3, at - mark, BAR - 6, fill=fills["over"], stroke=INK, stroke_width=1)
    line = canvas.line(mark, y - 1, mark, y + BAR + 1, stroke=INK, stroke_width=3)
    if row.get("source"):  # shown where the pointer rests on the limit
        ET.SubElement(line, "title").text = clean(f"{limit:.2f} dB: {row['source']}")


def too_long(row: Mapping[str, Any]) -> bool:
    """Whether the path is longer than the application allows."""
    return bool(known(row.get("over_m")) and row["over_m"] > 0)


def _left(row: Mapping[str, Any]) -> str:
    """Say what is left, in decibels; metres where the length alone is exceeded."""
    if not known(row["headroom_db"]):
        return "no figure"
    if row["headroom_db"] < 0:
        return f"{-row['headroom_db']:.2f} dB OVER"
    if too_long(row):
        return f"{row['over_m']:.0f} m TOO LONG"
    return f"{row['headroom_db']:.2f} dB left"


def _why(row: Mapping[str, Any]) -> str:
    """Say what binds, with its figures; in words where no figure can be given."""
    if not known(row["headroom_db"]):
        return str(row["binding"])
    if row["binding"] == "length" and known(row.get("length_max_m")) and known(row.get("length_m")):
        return f"{row['length_m']:.0f} m of at most {row['length_max_m']:.0f} m, length"
    return f"{row['loss_db']:.2f} of {row['limit_db']:.2f} dB, {row['binding']}"
