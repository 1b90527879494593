"""What joins: splices, terminations and the fibres of cords."""

from __future__ import annotations

from fibrebook.records.kinds.columns import ENDS, FIBRE_CLASSES, POLISHES, SITE, choice, date, label, loss, text
from fibrebook.records.kinds.declared import Column, Kind, Link

SPLICES = Kind(
    "splices", "splice", "A permanent joint of two core ends in a tray.",
    (
        SITE,
        label("enclosure", "The enclosure it is in.", required=True),
        label("tray", "Number or label of the tray.", required=True),
        label("slot", "Place in the tray.", required=True),
        label("a_cable", "Cable of one core end.", required=True),
        Column("a_core", "integer", "Core number in that cable.", required=True, minimum=1),
        choice("a_end", ENDS, "Its end, needed only where both ends of the cable are in this enclosure."),
        label("b_cable", "Cable of the other core end.", required=True),
        Column("b_core", "integer", "Core number in that cable.", required=True, minimum=1),
        choice("b_end", ENDS, "Its end, needed only where both ends of the cable are in this enclosure."),
        choice("method", ("fusion", "mechanical"), "How it was made."),
        loss("loss_db", "Loss of the splice."),
        choice("loss_basis", ("estimated", "measured"), "Splicer's estimate, or measured."),
        date("made_on", "When it was made."),
        text("made_by", "Initials of who made it."),
        text("splicer", "Serial number or label of the splicing machine."),
    ),
    key=("site", "enclosure", "tray", "slot"),
    links=(
        Link(("enclosure",), ("enclosures",)),
        Link(("a_cable", "a_core"), ("cores",)),
        Link(("b_cable", "b_core"), ("cores",)),
    ),
)  # fmt: skip

TERMINATIONS = Kind(
    "terminations", "termination", "A core end made off on a port (its rear).",
    (
        SITE,
        label("enclosure", "The enclosure it is in.", required=True),
        label("port", "The adaptor it is made off on.", required=True),
        label("position", "A or B on a duplex adaptor, blank on a simplex one."),
        label("cable", "The cable of the core.", required=True),
        Column("core", "integer", "Core number in the cable.", required=True, minimum=1),
        choice("end", ENDS, "Its end, needed only where both ends of the cable are in this enclosure."),
        choice("method", ("spliced pigtail", "field-fitted", "factory-fitted"), "How the connector was put on."),
        loss("loss_db", "Loss of the pigtail's splice; of the connection where no splice was made."),
        choice("loss_basis", ("estimated", "measured"), "Splicer's estimate, or measured."),
        date("made_on", "When it was made."),
        text("made_by", "Initials of who made it."),
        text("splicer", "Serial number or label of the splicing machine."),
    ),
    key=("site", "enclosure", "port", "position"),
    links=(Link(("enclosure", "port", "position"), ("ports",)), Link(("cable", "core"), ("cores",))),
)  # fmt: skip

PATCHES = Kind(
    "patches", "patch", "One fibre of a cord between two positions.",
    (
        SITE,
        label("cord", "Label on the cord.", required=True),
        label("strand", "Which fibre of the cord, from end to end: 1, 2..."),
        label("a_at", "Enclosure or equipment at one end."),
        label("a_port", "Port or interface there."),
        label("a_position", "Position there: A, B, Tx, Rx, TxRx or blank."),
        label("b_at", "Enclosure or equipment at the other end; blank = loose end."),
        label("b_port", "Port or interface there."),
        label("b_position", "Position there: A, B, Tx, Rx, TxRx or blank."),
        Column("temporary", "yes/no", "Yes where it was only meant for a while."),
        Column("length_m", "number", "Length of the cord.", unit="m", minimum=0, maximum=10_000),
        date("fitted_on", "When it was plugged."),
        choice("fibre_class", FIBRE_CLASSES, "Class of its fibre.", open_list=True),
        choice("a_polish", POLISHES, "Polish of its plug at the one end."),
        choice("b_polish", POLISHES, "Polish of its plug at the other end."),
    ),
    key=("site", "cord", "strand"),
    links=(
        Link(("a_at", "a_port", "a_position"), ("ports", "interfaces")),
        Link(("b_at", "b_port", "b_position"), ("ports", "interfaces")),
    ),
)  # fmt: skip
