"""Which sections a visit has, in the order of the work."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fibrebook.screens.frame.section import Host, Section, Shown
from fibrebook.screens.recording.cords import CordSection
from fibrebook.screens.recording.photos import PhotoSection
from fibrebook.screens.recording.plain_sections import CablesSection, EquipmentSection, MoreSection, SnagsSection
from fibrebook.screens.recording.tests import TestSection
from fibrebook.screens.recording.tray import TraySection
from fibrebook.screens.recording.visit_draft import Day

OnScreen = Shown[Any, Day]
SECTIONS: tuple[Callable[[], Section[Any, Day]], ...] = (
    CablesSection,
    TraySection,
    CordSection,
    EquipmentSection,
    TestSection,
    SnagsSection,
    PhotoSection,
)


def sections(host: Host, seen: Callable[[], Day]) -> list[OnScreen]:
    """Return the sections of a visit, shown; where plugins add records of a site, one more for them."""
    return [Shown(make(), host, seen) for make in (*SECTIONS, *([MoreSection] if MoreSection.kinds() else []))]
