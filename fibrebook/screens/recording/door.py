"""Our own sections of *Record a visit*, in the order of the work, through the same door as a plugin's."""

from __future__ import annotations

from collections.abc import Iterable

from fibrebook.plugins import VisitSection, hookimpl

WHERE = "fibrebook.screens.recording"
OUR_SECTIONS = (
    VisitSection("cables", f"{WHERE}.plain_sections:CablesSection", "New cables, enclosures, places and panel ports."),
    VisitSection("tray", f"{WHERE}.tray:TraySection", "Splices and pigtails of one cable end in one enclosure."),
    VisitSection("cords", f"{WHERE}.cords:CordSection", "Cords, with the polarity that they make."),
    VisitSection("equipment", f"{WHERE}.plain_sections:EquipmentSection", "Equipment, interfaces and channels."),
    VisitSection("tests", f"{WHERE}.tests:TestSection", "Light checks and loss tests of a cable's cores."),
    VisitSection("snags", f"{WHERE}.plain_sections:SnagsSection", "New snags, and open ones that were settled."),
    VisitSection("photos", f"{WHERE}.photos:PhotoSection", "Pictures, and what is to be seen on them."),
    VisitSection("more", f"{WHERE}.plain_sections:more_section", "Records of a site that plugins add."),
)


@hookimpl
def sections() -> Iterable[VisitSection]:
    """Give the built-in sections."""
    return OUR_SECTIONS
