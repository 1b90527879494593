"""Our own sheets, through the same door as a plugin's."""

from __future__ import annotations

from collections.abc import Iterable

from fibrebook.plugins import PrintedSheet, hookimpl

OUR_SHEETS = (
    PrintedSheet("site-page", "fibrebook.sheets:site_page", "One file that tells a site on a phone."),
    PrintedSheet("next-visit", "fibrebook.sheets:next_visit", "What to know, to take and to do at the next visit."),
)


@hookimpl
def sheets() -> Iterable[PrintedSheet]:
    """Give the built-in sheets."""
    return OUR_SHEETS
