"""Cables and their cores."""

from __future__ import annotations

from fibrebook.records.kinds.columns import FIBRE_CLASSES, NOTES, SITE, choice, date, label, text
from fibrebook.records.kinds.declared import Column, Kind, Link

CODE_HELP = "Order of colours; blank on a new cable = the firm's usual one, else TIA-598."

CABLES = Kind(
    "cables", "cable", "A cable between two enclosures, end A and end B.",
    (
        SITE,
        label("cable", "Label on the cable.", required=True),
        label("a_enclosure", "Enclosure at end A."),
        label("b_enclosure", "Enclosure at end B."),
        Column("core_count", "integer", "How many cores it has.", required=True, minimum=1, maximum=1728),
        Column("cores_per_tube", "integer", "Cores in each tube; blank = one tube.", minimum=1, maximum=1728),
        choice("fibre_class", FIBRE_CLASSES, "Class of its fibre.", open_list=True),
        choice("colour_code", ("TIA-598", "IEC 60304", "Swiss"), CODE_HELP, open_list=True),
        Column("length_m", "number", "Length of the cable.", unit="m", minimum=0, maximum=500_000),
        choice("length_basis", ("measured", "marked", "estimated"), "How the length is known."),
        text("sheath", "Sheath: colour, material, armour."),
        text("route", "The way it takes: ducts, trays, poles."),
        date("installed_on", "When it was pulled."),
        NOTES,
        text("tube_sizes", "Cores in each tube where tubes differ, as 12, 12, 6; adds up to the core count."),
    ),
    key=("site", "cable"),
    links=(Link(("a_enclosure",), ("enclosures",)), Link(("b_enclosure",), ("enclosures",))),
)  # fmt: skip

CORES = Kind(
    "cores", "core", "One core of a cable. Made from the cable; give a row only to say more about a core.",
    (
        SITE,
        label("cable", "The cable it is in.", required=True),
        Column("core", "integer", "Number of the core in the cable, from 1.", required=True, minimum=1, maximum=1728),
        Column("tube", "integer", "Number of the tube, from 1.", minimum=1, maximum=1728, generated=True),
        text("tube_colour", "Colour of the tube, by the colour code.", generated=True),
        text("core_colour", "Colour of the core, by the colour code.", generated=True),
        choice("condition", ("sound", "faulty"), "Whether light gets through it; blank = sound."),
        Column("fault_m", "number", "Distance of the fault from end A.", unit="m", minimum=0, maximum=500_000),
        text("reserved_for", "What it is kept for."),
        NOTES,
        text("tube_tracer", "Mark on the tube beside its colour.", generated=True),
        text("core_tracer", "Mark on the core beside its colour.", generated=True),
    ),
    key=("site", "cable", "core"),
    links=(Link(("cable",), ("cables",)),),
)  # fmt: skip
