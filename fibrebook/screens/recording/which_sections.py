"""Which sections a visit has, in the order of the work."""

from __future__ import annotations

from fibrebook.screens.recording.add_form import Section
from fibrebook.screens.recording.cords import CordSection
from fibrebook.screens.recording.photos import PhotoSection
from fibrebook.screens.recording.plain_sections import CablesSection, EquipmentSection, MoreSection, SnagsSection
from fibrebook.screens.recording.tests import TestSection
from fibrebook.screens.recording.tray import TraySection

SECTIONS = (CablesSection, TraySection, CordSection, EquipmentSection, TestSection, SnagsSection, PhotoSection)


def sections() -> list[type[Section]]:
    """Return the sections of a visit; where plugins add records of a site, one more for them."""
    return [*SECTIONS, *([MoreSection] if MoreSection.kinds() else [])]
