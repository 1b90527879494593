"""Splice trays as they lie open: slot by slot, both fibres in their colours, which are also written out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import groupby
from typing import Any

from fibrebook.drawings.fibre import draw_fibre
from fibrebook.drawings.path import known, rows_of
from fibrebook.drawings.svg import GROUND, INK, QUIET, RULE, Canvas, Picture, fit

WIDTH, MARGIN, TOP, HEAD, LINE = 1240, 24, 52, 30, 32
SLOT, SIDE = 64, 400
MIDDLE = MARGIN + SLOT + SIDE

Asked = Callable[[Mapping[str, Any]], bool]


def tray_picture(rows: Any, title: str = "", asked: Asked | None = None) -> Picture:
    """Draw the rows of `tray_rows`, one tray under the other; a splice that `asked` picks is framed and marked."""
    found = rows_of(rows)
    trays = [list(g) for _, g in groupby(found, key=lambda r: (r["enclosure"], r["tray"]))]
    title = title or (f"Trays of {found[0]['enclosure']}" if found else "No splices here")
    canvas = Canvas(WIDTH, TOP + sum(HEAD + LINE * len(t) + 12 for t in trays), title, _splices_in_words(found))
    canvas.text(MARGIN, 30, fit(title, 900, 17, 1)[0], 17, font_weight="bold")
    y = float(TOP)
    for tray in trays:
        canvas.rect(MARGIN, y, WIDTH - 2 * MARGIN, HEAD + LINE * len(tray), fill="#f4f6f8", stroke=RULE, rx=6)
        canvas.text(MARGIN + 10, y + 20, f"tray {tray[0]['tray']}, {len(tray)} splices", 13, font_weight="bold")
        for i, row in enumerate(tray):
            _slot(canvas, row, y + HEAD + i * LINE, bool(asked and asked(row)))
        y += HEAD + LINE * len(tray) + 12
    return canvas.picture()


def _slot(canvas: Canvas, row: Mapping[str, Any], y: float, asked: bool) -> None:
    middle = y + LINE / 2
    canvas.text(MARGIN + 12, middle + 5, fit(f"slot {row['slot']}", SLOT - 8, 12, 1)[0], 12, fill=QUIET)
    canvas.text(MIDDLE - 150, middle - 2, f"{row['a_cable']} core {row['a_core']}", 12, text_anchor="end")
    canvas.text(MIDDLE - 150, middle + 11, fit(row["a_colour"] or "", 290, 12, 1)[0], 12, fill=QUIET, text_anchor="end")
    draw_fibre(canvas, row["a_colour"] or "", MIDDLE - 142, middle, 130)
    draw_fibre(canvas, row["b_colour"] or "", MIDDLE + 12, middle, 130)
    canvas.add("path", d=f"M{MIDDLE - 10} {middle} l10 -10 l10 10 l-10 10 z", fill=GROUND, stroke=INK, stroke_width=2)
    canvas.text(MIDDLE + 150, middle - 2, f"{row['b_cable']} core {row['b_core']}", 12)
    canvas.text(MIDDLE + 150, middle + 11, fit(row["b_colour"] or "", 290, 12, 1)[0], 12, fill=QUIET)
    end = [row["method"] or "", f"{row['loss_db']:.2f} dB" if known(row["loss_db"]) else "no loss noted"]
    if row["channel"]:
        end.append(f"channel {row['channel']}")
    canvas.text(MIDDLE + 400, middle + 4, fit(", ".join(filter(None, end)), 250, 12, 1)[0], 12)
    if asked:
        canvas.rect(
            MARGIN + 4, y + 1, WIDTH - 2 * MARGIN - 8, LINE - 2, fill="none", stroke=INK, stroke_width=2.5, rx=4
        )
        canvas.text(WIDTH - MARGIN - 12, middle + 4, "◀ asked for", 12, text_anchor="end", font_weight="bold")


def _splices_in_words(rows: Sequence[Mapping[str, Any]]) -> str:
    return ". ".join(
        f"tray {r['tray']} slot {r['slot']}: {r['a_cable']} core {r['a_core']}, {r['a_colour']}, to "
        f"{r['b_cable']} core {r['b_core']}, {r['b_colour']}"
        for r in rows
    )
