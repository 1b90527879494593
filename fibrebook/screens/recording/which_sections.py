"""Which sections a visit has, in the order of the work."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fibrebook.screens.frame.section import Section as Contract
from fibrebook.screens.frame.section import Shown
from fibrebook.screens.recording.add_form import Visit, VisitSection
from fibrebook.screens.recording.cords import CordSection
from fibrebook.screens.recording.photos import PhotoSection
from fibrebook.screens.recording.plain_sections import CablesSection, EquipmentSection, MoreSection, SnagsSection
from fibrebook.screens.recording.tests import TestSection
from fibrebook.screens.recording.tray import TraySection
from fibrebook.screens.recording.visit_draft import Day

OnScreen = VisitSection | Shown[Any, Any]


def shown(kind: Callable[[], Contract[Any, Day]]) -> Callable[[Visit], OnScreen]:
    """Return what shows a section of the contract within a visit."""
    return lambda visit: Shown(kind(), visit, lambda: visit.day)


SECTIONS: tuple[Callable[[Visit], OnScreen], ...] = (
    shown(CablesSection),
    TraySection,
    shown(CordSection),
    shown(EquipmentSection),
    shown(TestSection),
    shown(SnagsSection),
    shown(PhotoSection),
)


def sections(visit: Visit) -> list[OnScreen]:
    """Return the sections of a visit; where plugins add records of a site, one more for them."""
    return [make(visit) for make in (*SECTIONS, *([shown(MoreSection)] if MoreSection.kinds() else []))]
