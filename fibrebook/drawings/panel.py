"""A panel as it looks when its door opens: every port, what is plugged in front, which core is behind."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import groupby
from typing import Any

from fibrebook.drawings.fibre import draw_fibre
from fibrebook.drawings.path import rows_of
from fibrebook.drawings.svg import INK, QUIET, RULE, Canvas, Picture, fit

WIDTH, MARGIN, ACROSS, GAP = 1240, 24, 4, 12
CELL = (WIDTH - 2 * MARGIN - (ACROSS - 1) * GAP) / ACROSS
HEAD, LINE, TOP = 26, 56, 78
CORD = "#1f3a5f"

Asked = Callable[[Mapping[str, Any]], bool]


def panel_picture(rows: Any, title: str = "", asked: Asked | None = None) -> Picture:
    """Draw the rows of `panel_rows`; a position that `asked` picks is framed and marked.

    A filled square is a plug, with its cord and where that leads; a hollow one is free. The core behind a position is
    drawn in its colours, which are also written out.
    """
    found = rows_of(rows)
    ports = [list(g) for _, g in groupby(found, key=lambda r: (r["enclosure"], r["port"]))]
    title = title or (f"Panel {found[0]['enclosure']}" if found else "A panel without ports")
    heights = [HEAD + LINE * max(len(p) for p in ports[i : i + ACROSS]) + GAP for i in range(0, len(ports), ACROSS)]
    canvas = Canvas(WIDTH, TOP + sum(heights) + 8, title, _ports_in_words(found))
    canvas.text(MARGIN, 30, fit(title, 700, 17, 1)[0], 17, font_weight="bold")
    _legend(canvas)
    top = float(TOP)
    for number, height in enumerate(heights):
        for i, port in enumerate(ports[number * ACROSS : (number + 1) * ACROSS]):
            _port(canvas, port, MARGIN + i * (CELL + GAP), top, height - GAP, asked)
        top += height
    return canvas.picture()


def _legend(canvas: Canvas) -> None:
    _plug(canvas, MARGIN, 48, True)
    canvas.text(MARGIN + 22, 60, "plugged: its cord, and where that leads", 13)
    _plug(canvas, MARGIN + 320, 48, False)
    canvas.text(MARGIN + 342, 60, "free", 13)
    canvas.text(MARGIN + 400, 60, "line: the core made off behind, in its colours", 13)


def _port(
    canvas: Canvas, port: Sequence[Mapping[str, Any]], x: float, y: float, height: float, asked: Asked | None
) -> None:
    first = port[0]
    canvas.rect(x, y, CELL, height, fill="#f4f6f8", stroke=RULE, stroke_width=1.5, rx=4)
    kind = " ".join(filter(None, (first["connector"], first["polish"])))
    canvas.text(x + 8, y + 18, f"port {first['port']}", 13, font_weight="bold")
    canvas.text(x + CELL - 8, y + 18, kind, 12, fill=QUIET, text_anchor="end")
    for i, row in enumerate(port):
        top = y + HEAD + i * LINE
        canvas.line(x, top, x + CELL, top, stroke=RULE, stroke_width=1)
        _position(canvas, row, x, top)
        if asked and asked(row):
            canvas.rect(x + 2, top + 2, CELL - 4, LINE - 4, fill="none", stroke=INK, stroke_width=2.5, rx=3)
            canvas.text(x + CELL - 8, top + 17, "◀ asked for", 12, text_anchor="end", font_weight="bold")


def _position(canvas: Canvas, row: Mapping[str, Any], x: float, y: float) -> None:
    _plug(canvas, x + 8, y + 6, bool(row["cord"]))
    cord = f"{row['cord']} to {row['leads_to']}" if row["cord"] else "free"
    label = f"{row['position']}  " if row["position"] else ""
    canvas.text(x + 28, y + 17, fit(f"{label}{cord}", CELL - 36, 12, 1)[0], 12)
    if row["core"] is None:
        canvas.text(x + 28, y + 40, "nothing made off behind", 12, fill=QUIET)
        return
    draw_fibre(canvas, row["colour"] or "", x + 8, y + 38, 52)
    words = f"{row['cable']} core {row['core']:.0f}"
    canvas.text(x + 68, y + 35, fit(words, CELL - 76, 12, 1)[0], 12)
    canvas.text(x + 68, y + 49, fit(row["colour"] or "", CELL - 74, 12, 1)[0], 12, fill=QUIET)


def _plug(canvas: Canvas, x: float, y: float, filled: bool) -> None:
    canvas.rect(x, y, 13, 13, fill=CORD if filled else "#ffffff", stroke=INK, stroke_width=1.5, rx=2)


def _ports_in_words(rows: Sequence[Mapping[str, Any]]) -> str:
    parts = []
    for r in rows:
        name = f"port {r['port']}{' ' + r['position'] if r['position'] else ''}"
        behind = f"{r['cable']} core {r['core']:.0f}, {r['colour']}" if r["core"] is not None else "nothing behind"
        front = f"cord {r['cord']} to {r['leads_to']}" if r["cord"] else "free"
        parts.append(f"{name}: {front}; {behind}")
    return ". ".join(parts)
