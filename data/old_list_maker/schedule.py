"""A core schedule: one sheet per cable, a title block above, notes below, and a legend."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from demo_maker.book import put, save
from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.worksheet.worksheet import Worksheet

HEADER_ROW = 6
HEADER = ("Core No", "Colour", "End A Panel/Port", "End B Panel/Port", "Use", "Remarks")


class Line(NamedTuple):
    """One core as the schedule shows it."""

    a: str
    b: str
    use: str = ""
    remarks: str = ""


class Schedule(NamedTuple):
    """One sheet: its title block, its colours as typed, its lines, and the notes under them."""

    sheet: str
    cable: str
    between: str
    dated: str
    kind: str
    colours: Sequence[str]
    lines: Sequence[Line]
    notes: Sequence[str]


TUBE_1 = (
    "Blue",
    "Orange",
    "Green",
    "Brown",
    "Grey",
    "White",
    "Red",
    "Black",
    "Yellow",
    "Violet",
    "Pink",
    "Aqua",
)
TUBE_2 = ("BL", "OR", "GR", "BR", "Slate", "WH", "RD", "BK", "YL", "VI", "Rose", "Turq.")
TUBE_3 = (
    "blue",
    "orange ",
    "green",
    "brown",
    "GY",
    "white",
    "red",
    "black",
    "yellow",
    "purple",
    "pink",
    "turquoise",
)


def quay() -> Schedule:
    """Twenty-four cores in two tubes; four channels, a reserved pair, a bad core, the rest spare or dark."""
    lines = []
    uses = {1: "ticket hall network", 3: "cameras east", 5: "cameras west", 13: "tide board"}
    remarks = {
        5: "=see drawing 4",
        7: "+2 spare promised to customs",
        8: "",
        11: "no light since storm, 212 m",
        20: "@workshop for re-polish",
    }
    for core in range(1, 25):
        use = uses.get(core, "" if core - 1 in uses else "spare" if core <= 12 else "dark")
        b = f"P2/{core}" if core <= 16 else "not terminated" if core <= 20 else "-"
        lines.append(Line(f"P1/{core}" if core <= 20 else "-", b, use, remarks.get(core, "")))
    notes = ("Notes:", "pairs share one use cell", "cores 21-24 coiled at both ends")
    return Schedule(
        "C1",
        "C1",
        "Ticket hall P1 to Quay store P2",
        "12.03.2019",
        "24 x SM 9/125 OS2, 2 x 12",
        TUBE_1 + TUBE_2,
        lines,
        notes,
    )


def ramp() -> Schedule:
    """Twelve cores of OM3; an end made off on two panels."""
    lines = [
        Line(
            f"P1/{20 + c}" if c <= 4 else f"P4/{c - 4}",
            f"P3/{c}" if c <= 8 else "not terminated",
            {1: "ramp barriers", 3: "sign"}.get(c, "" if c in (2, 4) else "spare"),
            "connector cracked, use with care" if c == 6 else "",
        )
        for c in range(1, 13)
    ]
    return Schedule(
        "C2",
        "C2",
        "Ticket hall P1, P4 to Ramp cabin P3",
        "07/2021",
        "12 x MM 50/125 OM3",
        TUBE_3,
        lines,
        ("checked by EM",),
    )


def linkspan() -> Schedule:
    """Eight cores that go on from the quay store; the sheet's name is not the cable's."""
    lines = [
        Line(
            f"P2 / {16 + c}",
            f"WB1/{c}" if c <= 4 else "",
            "link span drive" if c == 1 else "",
            "- not measured -" if c == 4 else "",
        )
        for c in range(1, 9)
    ]
    return Schedule(
        "C3 (link span)",
        "C3",
        "Quay store P2 to Link span WB1",
        "3 Nov 2022",
        "8 x SM OS2",
        TUBE_1[:8],
        lines,
        ("blank means the same as spare",),
    )


def write_sheet(sheet: Worksheet, schedule: Schedule) -> None:
    """Write one schedule: five title rows, the header in row 6, pairs that share a use cell merged."""
    titles = (
        "Core schedule of the old firm (invented)",
        "Site: Ferry terminal",
        f"Cable: {schedule.cable}   {schedule.between}",
        f"Dated {schedule.dated}   Cores: {schedule.kind}",
    )
    for row, title in enumerate(titles, start=1):
        put(sheet.cell(row, 1), title)
        sheet.merge_cells(start_row=row, start_column=1, end_row=row, end_column=len(HEADER))
        sheet.cell(row, 1).font = Font(bold=row == 1)
    for column, text in enumerate(HEADER, start=1):
        put(sheet.cell(HEADER_ROW, column), text)
        sheet.cell(HEADER_ROW, column).alignment = Alignment(wrap_text=True)
    first = HEADER_ROW + 1
    for core, (colour, line) in enumerate(zip(schedule.colours, schedule.lines, strict=True), start=1):
        row = first + core - 1
        for column, value in enumerate((core, colour, *line), start=1):
            if value != "":
                put(sheet.cell(row, column), value)
        paired = line.use and line.use not in ("spare", "dark")
        if paired:
            sheet.merge_cells(start_row=row, start_column=5, end_row=row + 1, end_column=5)
    for step, note in enumerate(schedule.notes):
        put(sheet.cell(first + len(schedule.lines) + 1 + step, 1), note)
    for column, width in zip("ABCDEF", (9, 10, 18, 18, 22, 30), strict=True):
        sheet.column_dimensions[column].width = width


def write(path: Path) -> int:
    """Write the workbook; give the number of cores in it."""
    book = Workbook()
    legend = book.active
    legend.title = "Legend"
    for row, (word, meaning) in enumerate(
        (
            ("spare", "made off, free"),
            ("dark", "made off, nobody knows"),
            ("-", "coiled, no connector"),
            ("GY", "grey"),
            ("Turq.", "aqua"),
        ),
        start=1,
    ):
        put(legend.cell(row, 1), word)
        put(legend.cell(row, 2), meaning)
    schedules = (quay(), ramp(), linkspan())
    for schedule in schedules:
        write_sheet(book.create_sheet(schedule.sheet), schedule)
    save(book, path)
    return sum(len(s.lines) for s in schedules)
