"""A panel port list: one row per port, two panels to a sheet, the panel's name merged down its block."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from demo_maker.book import put, save
from openpyxl import Workbook
from openpyxl.styles import Alignment

HEADER = ("Panel", "Port", "Cable", "Core", "Goes to", "Switch", "Switch port", "Remarks")


class Port(NamedTuple):
    """One port as the list shows it."""

    port: str | int
    cable: str = ""
    core: str | int = ""
    goes_to: str = ""
    switch: str = ""
    switch_port: str | int = ""
    remarks: str = ""


def office_p1() -> list[Port]:
    """Sixteen ports: cable K1, two channels, a few odd remarks."""
    rows = []
    for n in range(1, 17):
        switch = ("SW1", 23 + (n + 1) // 2) if n <= 4 else ("", "")
        remarks = {3: "=see drawing", 6: "label gone", 12: "+1 spare", 15: "@workshop"}.get(n, "")
        rows.append(Port(n, "K1", n, f"Hall 2 / P3 / {n}" if n <= 12 else "", *switch, remarks))
    return rows


def office_p2() -> list[Port]:
    """Duplex ports written 1A, 1B: cable K2 to the dock, the last two empty."""
    rows = []
    for n in range(1, 13):
        name, core = f"{(n + 1) // 2}{'A' if n % 2 else 'B'}", n
        if n > 8:
            rows.append(Port(name, remarks="empty"))
            continue
        switch = ("SW1", 27) if n <= 2 else ("", "")
        rows.append(Port(name, "K2", core, f"Dock / WB1 / {name}" if n <= 6 else "n/t", *switch))
    return rows


def hall_p3() -> list[Port]:
    """The far end of K1: twelve ports, of which one says a core that the office does not."""
    rows = []
    for n in range(1, 13):
        core = {9: 10, 10: 9}.get(n, n)
        switch = ("SW2", (n + 1) // 2) if n <= 4 else ("", "")
        rows.append(Port(n, "K1", core, f"Office / P1 / {core}", *switch, "crossed in the tray?" if n == 9 else ""))
    return rows


def hall_p4() -> list[Port]:
    """A panel for cable K3 to the plant room, half of it used."""
    return [
        Port(
            n,
            "K3" if n <= 8 else "",
            n if n <= 8 else "",
            "Plant room / WB2 / " + str(n) if n <= 4 else "",
            "SW2" if n == 1 else "",
            "SFP2" if n == 1 else "",
            "single fibre optic" if n == 1 else "",
        )
        for n in range(1, 13)
    ]


def write(path: Path) -> int:
    """Write the workbook; give the number of ports in it."""
    book = Workbook()
    book.remove(book.active)
    total = 0
    for title, blocks in (
        ("Office rack", (("P1", office_p1()), ("P2", office_p2()))),
        ("Hall 2", (("P3", hall_p3()), ("P4", hall_p4()))),
    ):
        sheet = book.create_sheet(title)
        put(
            sheet.cell(1, 1),
            f"Cold store - {title} (invented)   cables K1: 16 OS2, 180 m; K2: 8 OS2; K3: 8 OM3",
        )
        for column, text in enumerate(HEADER, start=1):
            put(sheet.cell(3, column), text)
        row = 4
        for panel, ports in blocks:
            put(sheet.cell(row, 1), panel)
            sheet.merge_cells(start_row=row, start_column=1, end_row=row + len(ports) - 1, end_column=1)
            sheet.cell(row, 1).alignment = Alignment(vertical="top")
            for port in ports:
                for column, value in enumerate(port, start=2):
                    if value != "":
                        put(sheet.cell(row, column), value)
                row += 1
            total += len(ports)
            row += 2  # blank lines between the panels
    save(book, path)
    return total
