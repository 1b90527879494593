"""Our own sheets, through the same door as a plugin's."""

from __future__ import annotations

from collections.abc import Iterable

from fibrebook.plugins import PrintedSheet, hookimpl

PAPER = "fibrebook.sheets.paper.single_sheets"
BOTH = ("of", "look")
OUR_SHEETS = (
    PrintedSheet("site-page", "fibrebook.sheets:site_page", "One file that tells a site on a phone."),
    PrintedSheet("next-visit", "fibrebook.sheets:next_visit", "What to know, to take and to do at the next visit."),
    PrintedSheet("core-schedule", f"{PAPER}:core_schedule", "PDF: the cores of cables (--of CABLE).", BOTH),
    PrintedSheet("tray", f"{PAPER}:tray", "PDF, A5: trays as they lie open (--of ENCLOSURE --of TRAY).", BOTH),
    PrintedSheet("panel-schedule", f"{PAPER}:panel_schedule", "PDF: the ports of panels (--of ENCLOSURE).", BOTH),
    PrintedSheet("snag-list", f"{PAPER}:snag_list", "PDF: open snags, to tick (--of SNAG).", BOTH),
    PrintedSheet("cabinet-door", f"{PAPER}:cabinet_door", "PDF: for the door, read from 2 m (--of LOCATION).", BOTH),
)


@hookimpl
def sheets() -> Iterable[PrintedSheet]:
    """Give the built-in sheets."""
    return OUR_SHEETS
