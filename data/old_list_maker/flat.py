"""One flat line per core for several sites, as a spreadsheet saved it: semicolons, cp1252, decimal commas."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

HEADER = (
    "Site",
    "Cable",
    "From",
    "To",
    "Length (m)",
    "Type",
    "Core",
    "Colour",
    "Port A",
    "Port B",
    "Service",
    "Remark",
)
ORDER = (
    "blue",
    "orange",
    "green",
    "brown",
    "grey",
    "white",
    "red",
    "black",
    "yellow",
    "violet",
    "pink",
    "turquoise",
)
SHORT = ("BL", "OR", "GN", "BN", "GY", "WH", "RD", "BK", "YE", "VT", "PK", "TQ")
FRENCH = "Café counter – till"  # é and the dash make the encoding matter

# site, cable as typed in turn; from and its first port; to, length, type as typed in turn; cores, made off
CABLES: tuple[tuple[Sequence[str], Sequence[str], tuple[str, int], str, str, Sequence[str], int, int], ...] = (
    (
        ("Sorting office", "Sorting Office", "sorting office "),
        ("C1", "C 1"),
        ("P1", 1),
        "P2",
        "212,5",
        ("SM 9/125", "OS2"),
        24,
        16,
    ),
    (
        ("Sorting office", "Sorting-office"),
        ("C2", "c2"),
        ("P1", 25),
        "WB1",
        "64",
        ("OS2", "SM 9/125 "),
        12,
        12,
    ),
    (("Saw mill", "Sawmill"), ("C1",), ("P1", 1), "P2", "148,0", ("MM 62,5", "62.5/125"), 12, 12),
    (("Saw mill", "SAW MILL"), ("C2", "C-2"), ("P1", 13), "WB1", "1.031,7", ("SM 9/125",), 12, 6),
    (("Ice rink",), ("IR-1", "IR 1"), ("P1", 1), "P2", "89,4", ("50/125 OM3", "OM3"), 24, 8),
    (("Ice rink", "Ice  rink"), ("IR-2",), ("P2", 25), "WB1", "", ("50/125 OM3 ",), 8, 8),
)

SAID = {  # cable number in the table above and core: service, remark
    (0, 1): ("network", ""),
    (0, 2): ("network", ""),
    (0, 3): (FRENCH, ""),
    (0, 4): (FRENCH, ""),
    (0, 7): ("", "+2 spare"),
    (0, 15): ("", "defect at 88,0 m"),
    (1, 1): ("cameras", ""),
    (1, 2): ("cameras", ""),
    (1, 9): ("", "=see drawing"),
    (1, 10): ("reserved: lockers", ""),
    (2, 1): ("saw controller", ""),
    (2, 2): ("saw controller", ""),
    (2, 8): ("", "no light"),
    (3, 1): ("gate", "@workshop has the plan"),
    (3, 2): ("gate", ""),
    (4, 1): ("score board", ""),
    (4, 2): ("score board", ""),
    (4, 13): ("", "tracer ring"),
    (5, 1): ("ice plant", ""),
    (5, 2): ("ice plant", ""),
    (5, 7): ("", "-3 dB, try again"),
}


def lines() -> list[tuple[str, ...]]:
    """Give the header, all lines in turn, and the header once more in the middle."""
    out: list[tuple[str, ...]] = [HEADER]
    for which, (sites, cables, (a, start), b, length_m, kinds, cores, made_off) in enumerate(CABLES):
        if which == 3:
            out.append(HEADER)
        for core in range(1, cores + 1):
            colours = SHORT if which in (1, 4) else ORDER
            service, remark = SAID.get((which, core), ("", ""))
            made = core <= made_off
            out.append(
                (
                    sites[core % len(sites)],
                    cables[core % len(cables)],
                    a,
                    b,
                    length_m,
                    kinds[core % len(kinds)],
                    str(core),
                    colours[(core - 1) % 12] + ("  " if core % 7 == 0 else ""),
                    f"{start + core - 1}" if made else "",
                    f"{core}" if made and core % 11 else "-",
                    service,
                    remark,
                )
            )
    return out


def write(path: Path) -> int:
    """Write the file; give the number of cores in it."""
    rows = lines()
    text = "".join(";".join(row) + "\r\n" for row in rows)
    path.write_bytes(text.encode("cp1252"))
    return len(rows) - 2
