"""The kinds of record there are, each declared once. Names are those of the design and the glossary."""

from __future__ import annotations

from fibrebook.records.every_kind import Kinds
from fibrebook.records.fields import Column, Kind, Link
from fibrebook.records.firm_kinds import CHOICES, COLOUR_CODES, REFERENCE_VALUES

FIBRE_CLASSES = ("OM1", "OM2", "OM3", "OM4", "OM5", "OS1", "OS1a", "OS2", "G.652.D", "G.657.A1", "G.657.A2", "G.657.B3")
CONNECTORS = ("LC", "SC", "ST", "FC", "E2000", "MPO")
GRADES = ("B", "C", "D", "Bm", "Cm")  # of IEC 61753-1
ENDS = ("A", "B")


def _label(name: str, help: str, **more: object) -> Column:
    return Column(name, "label", help, **more)  # type: ignore[arg-type]


def _text(name: str, help: str, **more: object) -> Column:
    return Column(name, "text", help, **more)  # type: ignore[arg-type]


def _choice(name: str, allowed: tuple[str, ...], help: str, **more: object) -> Column:
    return Column(name, "text", help, allowed=allowed, **more)  # type: ignore[arg-type]


def _date(name: str, help: str) -> Column:
    return Column(name, "date", help)


def _loss(name: str, help: str) -> Column:
    return Column(name, "number", help, unit="dB", minimum=-2, maximum=40)


def _power(name: str, help: str) -> Column:
    return Column(name, "number", help, unit="dBm", minimum=-60, maximum=30)


SITE = _label("site", "The customer's premises that fibre joins; a short code of the firm's own.", required=True)
NOTES = _text("notes", "Anything else worth knowing.")

SITES = Kind(
    "sites", "site", "A customer's premises: everything that fibre joins.",
    (
        SITE,
        _text("name", "Name of the site in full."),
        _text("customer", "Who the work is done for."),
        _text("address", "Where it is.", personal=True),
        _text("contact", "Whom to ask for on site.", personal=True),
        _text("access", "How to get in: keys, hours, gate codes.", personal=True),
        _text("hazards", "What can hurt someone here."),
        NOTES,
    ),
    key=("site",),
)  # fmt: skip

LOCATIONS = Kind(
    "locations", "location", "A building, room, rack or cabinet at a site.",
    (
        SITE,
        _label("location", "Short name of the place, unique at the site.", required=True),
        _text("premises", "Whose premises, where neighbours share a site."),
        _text("building", "Building it is in."),
        _text("room", "Room it is in."),
        _text("rack", "Rack or cabinet it is in."),
        NOTES,
    ),
    key=("site", "location"),
)  # fmt: skip

ENCLOSURES = Kind(
    "enclosures", "enclosure", "A housing where cores are joined: rack panel, wall box, joint closure.",
    (
        SITE,
        _label("enclosure", "Label on the housing; shares one set of names with equipment.", required=True),
        _label("location", "Where it is."),
        _choice("kind", ("rack panel", "wall box", "joint closure"), "What sort of housing it is."),
        Column("trays", "integer", "How many splice trays it holds.", minimum=0, maximum=200),
        NOTES,
    ),
    key=("site", "enclosure"),
    links=(Link(("location",), ("locations",)),),
)  # fmt: skip

PORTS = Kind(
    "ports", "port", "One single-fibre position of an adaptor in an enclosure.",
    (
        SITE,
        _label("enclosure", "The enclosure it is in.", required=True),
        _label("port", "Number or label of the adaptor.", required=True),
        _label("position", "A or B on a duplex adaptor, blank on a simplex one."),
        _choice("connector", CONNECTORS, "Connector the adaptor takes.", open_list=True),
        _choice("polish", ("PC", "UPC", "APC"), "Polish of the end face behind it."),
        _choice("fibre_class", FIBRE_CLASSES, "Fibre class of the pigtail behind it.", open_list=True),
        _choice("grade", GRADES, "Connector grade of IEC 61753-1; blank = standard grade."),
    ),
    key=("site", "enclosure", "port", "position"),
    links=(Link(("enclosure",), ("enclosures",)),),
)  # fmt: skip

CABLES = Kind(
    "cables", "cable", "A cable between two enclosures, end A and end B.",
    (
        SITE,
        _label("cable", "Label on the cable.", required=True),
        _label("a_enclosure", "Enclosure at end A."),
        _label("b_enclosure", "Enclosure at end B."),
        Column("core_count", "integer", "How many cores it has.", required=True, minimum=1, maximum=1728),
        Column("cores_per_tube", "integer", "Cores in each tube; blank = one tube.", minimum=1, maximum=1728),
        _choice("fibre_class", FIBRE_CLASSES, "Class of its fibre.", open_list=True),
        _choice("colour_code", ("TIA-598", "IEC 60304", "Swiss"), "Order of colours; blank = TIA-598.", open_list=True),
        Column("length_m", "number", "Length of the cable.", unit="m", minimum=0, maximum=500_000),
        _choice("length_basis", ("measured", "marked", "estimated"), "How the length is known."),
        _text("sheath", "Sheath: colour, material, armour."),
        _text("route", "The way it takes: ducts, trays, poles."),
        _date("installed_on", "When it was pulled."),
        NOTES,
        _text("tube_sizes", "Cores in each tube where tubes differ, as 12, 12, 6; adds up to the core count."),
    ),
    key=("site", "cable"),
    links=(Link(("a_enclosure",), ("enclosures",)), Link(("b_enclosure",), ("enclosures",))),
)  # fmt: skip

CORES = Kind(
    "cores", "core", "One core of a cable. Made from the cable; give a row only to say more about a core.",
    (
        SITE,
        _label("cable", "The cable it is in.", required=True),
        Column("core", "integer", "Number of the core in the cable, from 1.", required=True, minimum=1, maximum=1728),
        Column("tube", "integer", "Number of the tube, from 1.", minimum=1, maximum=1728, generated=True),
        _text("tube_colour", "Colour of the tube, by the colour code.", generated=True),
        _text("core_colour", "Colour of the core, by the colour code.", generated=True),
        _choice("condition", ("sound", "faulty"), "Whether light gets through it; blank = sound."),
        Column("fault_m", "number", "Distance of the fault from end A.", unit="m", minimum=0, maximum=500_000),
        _text("reserved_for", "What it is kept for."),
        NOTES,
        _text("tube_tracer", "Mark on the tube beside its colour.", generated=True),
        _text("core_tracer", "Mark on the core beside its colour.", generated=True),
    ),
    key=("site", "cable", "core"),
    links=(Link(("cable",), ("cables",)),),
)  # fmt: skip

SPLICES = Kind(
    "splices", "splice", "A permanent joint of two core ends in a tray.",
    (
        SITE,
        _label("enclosure", "The enclosure it is in.", required=True),
        _label("tray", "Number or label of the tray.", required=True),
        _label("slot", "Place in the tray.", required=True),
        _label("a_cable", "Cable of one core end.", required=True),
        Column("a_core", "integer", "Core number in that cable.", required=True, minimum=1),
        _choice("a_end", ENDS, "Its end, needed only where both ends of the cable are in this enclosure."),
        _label("b_cable", "Cable of the other core end.", required=True),
        Column("b_core", "integer", "Core number in that cable.", required=True, minimum=1),
        _choice("b_end", ENDS, "Its end, needed only where both ends of the cable are in this enclosure."),
        _choice("method", ("fusion", "mechanical"), "How it was made."),
        _loss("loss_db", "Loss of the splice."),
        _choice("loss_basis", ("estimated", "measured"), "Splicer's estimate, or measured."),
        _date("made_on", "When it was made."),
        _text("made_by", "Initials of who made it."),
        _text("splicer", "Serial number or label of the splicing machine."),
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
        _label("enclosure", "The enclosure it is in.", required=True),
        _label("port", "The adaptor it is made off on.", required=True),
        _label("position", "A or B on a duplex adaptor, blank on a simplex one."),
        _label("cable", "The cable of the core.", required=True),
        Column("core", "integer", "Core number in the cable.", required=True, minimum=1),
        _choice("end", ENDS, "Its end, needed only where both ends of the cable are in this enclosure."),
        _choice("method", ("spliced pigtail", "field-fitted", "factory-fitted"), "How the connector was put on."),
        _loss("loss_db", "Loss of the pigtail's splice; of the connection where no splice was made."),
        _choice("loss_basis", ("estimated", "measured"), "Splicer's estimate, or measured."),
        _date("made_on", "When it was made."),
        _text("made_by", "Initials of who made it."),
        _text("splicer", "Serial number or label of the splicing machine."),
    ),
    key=("site", "enclosure", "port", "position"),
    links=(Link(("enclosure", "port", "position"), ("ports",)), Link(("cable", "core"), ("cores",))),
)  # fmt: skip

EQUIPMENT = Kind(
    "equipment", "equipment", "A switch, converter or other active device.",
    (
        SITE,
        _label("equipment", "Label on the device; shares one set of names with enclosures.", required=True),
        _label("location", "Where it is."),
        _text("kind", "What it is: switch, media converter, camera..."),
        _text("label", "What is written on it besides."),
    ),
    key=("site", "equipment"),
    links=(Link(("location",), ("locations",)),),
)  # fmt: skip

INTERFACES = Kind(
    "interfaces", "interface", "One optical port of equipment, one row a fibre.",
    (
        SITE,
        _label("equipment", "The equipment it is on.", required=True),
        _label("interface", "Number or label of the interface.", required=True),
        _choice("position", ("Tx", "Rx", "TxRx"), "Transmit, receive, or both over one fibre.", required=True),
        _text("application", "What the optic speaks: 1000BASE-LX, 10GBASE-SR..."),
        _power("launch_min_dbm", "Least launch power of the optic."),
        _power("launch_max_dbm", "Greatest launch power of the optic."),
        _power("receive_min_dbm", "Least power its receiver needs."),
        _power("receive_max_dbm", "Greatest power its receiver bears."),
    ),
    key=("site", "equipment", "interface", "position"),
    links=(Link(("equipment",), ("equipment",)),),
)  # fmt: skip

PATCHES = Kind(
    "patches", "patch", "One fibre of a cord between two positions.",
    (
        SITE,
        _label("cord", "Label on the cord.", required=True),
        _label("strand", "Which fibre of the cord: 1, 2..."),
        _label("a_at", "Enclosure or equipment at one end."),
        _label("a_port", "Port or interface there."),
        _label("a_position", "Position there: A, B, Tx, Rx, TxRx or blank."),
        _label("b_at", "Enclosure or equipment at the other end; blank = loose end."),
        _label("b_port", "Port or interface there."),
        _label("b_position", "Position there: A, B, Tx, Rx, TxRx or blank."),
        Column("temporary", "yes/no", "Yes where it was only meant for a while."),
        Column("length_m", "number", "Length of the cord.", unit="m", minimum=0, maximum=10_000),
        _date("fitted_on", "When it was plugged."),
    ),
    key=("site", "cord", "strand"),
    links=(
        Link(("a_at", "a_port", "a_position"), ("ports", "interfaces")),
        Link(("b_at", "b_port", "b_position"), ("ports", "interfaces")),
    ),
)  # fmt: skip

CHANNELS = Kind(
    "channels", "channel", "A connection in use, from equipment to equipment.",
    (
        SITE,
        _label("channel", "Name of the channel.", required=True),
        _text("purpose", "What it serves."),
        _text("application", "What runs over it: 1000BASE-LX, 10GBASE-SR..."),
        _label("a_equipment", "Equipment at one end.", required=True),
        _label("a_interface", "Interface there.", required=True),
        _label("b_equipment", "Equipment at the other end.", required=True),
        _label("b_interface", "Interface there.", required=True),
        _date("in_use_since", "When it went into use."),
    ),
    key=("site", "channel"),
    links=(
        Link(("a_equipment", "a_interface"), ("interfaces",)),
        Link(("b_equipment", "b_interface"), ("interfaces",)),
    ),
)  # fmt: skip

TESTS = Kind(
    "tests", "test", "A light check, loss test or OTDR shot, from a position to a position or of a core.",
    (
        SITE,
        _label("test", "Number or label of the test.", required=True),
        _label("from_at", "Enclosure or equipment the light went in at."),
        _label("from_port", "Port or interface there."),
        _label("from_position", "Position there."),
        _label("to_at", "Enclosure or equipment it came out at."),
        _label("to_port", "Port or interface there."),
        _label("to_position", "Position there."),
        _label("cable", "The cable, where one core was tested."),
        Column("core", "integer", "The core, where one core was tested.", minimum=1),
        _choice("method", ("light check", "loss test", "OTDR"), "How it was tested."),
        Column("wavelength_nm", "integer", "Wavelength.", unit="nm", minimum=600, maximum=1700),
        _choice("direction", ("a to b", "b to a"), "Which way the light went."),
        _choice("reference_method", ("one-cord", "two-cord", "three-cord"), "How the meter was zeroed."),
        _loss("loss_db", "Loss found."),
        Column("length_m", "number", "Length found.", unit="m", minimum=0, maximum=500_000),
        _choice("verdict", ("pass", "marginal", "fail"), "What was made of it."),
        _text("instrument", "Instrument used."),
        _date("tested_on", "When it was tested."),
        _text("tested_by", "Initials of who tested it."),
        _choice("cord_grade", ("reference", "standard"), "Grade of the test cords' plugs."),
        Column("uncertainty_db", "number", "Uncertainty of the result, ±.", unit="dB", minimum=0, maximum=5),
        NOTES,
    ),
    key=("site", "test"),
    links=(
        Link(("from_at", "from_port", "from_position"), ("ports", "interfaces")),
        Link(("to_at", "to_port", "to_position"), ("ports", "interfaces")),
        Link(("cable", "core"), ("cores",)),
    ),
)  # fmt: skip

EVENTS = Kind(
    "events", "event", "One event of an OTDR shot: a line of the instrument's table.",
    (
        SITE,
        _label("test", "The test it belongs to.", required=True),
        _label("event", "Number of the event in the table.", required=True),
        Column("distance_m", "number", "Distance from where the light went in.", unit="m", minimum=0, maximum=500_000),
        Column("loss_db", "number", "Loss of the event; below 0 only for a gainer.", unit="dB", minimum=-5, maximum=40),
        Column("reflectance_db", "number", "Reflectance, a negative number.", unit="dB", minimum=-90, maximum=0),
        _choice("what", ("start", "splice", "gainer", "connection", "bend", "break", "end"), "What it is taken for."),
        NOTES,
    ),
    key=("site", "test", "event"),
    links=(Link(("test",), ("tests",)),),
)  # fmt: skip

VISITS = Kind(
    "visits", "visit", "A day's work at a site.",
    (
        SITE,
        _label("visit", "Number or label of the visit.", required=True),
        _date("visited_on", "When."),
        _text("visited_by", "Initials of who went."),
        _text("done", "What was done."),
        NOTES,
    ),
    key=("site", "visit"),
)  # fmt: skip

SNAGS = Kind(
    "snags", "snag", "Something left open at a site.",
    (
        SITE,
        _label("snag", "Number or label of the snag.", required=True),
        _date("found_on", "When it was found."),
        _text("what", "What is open."),
        _text("where", "Where it is."),
        _date("done_on", "When it was settled; blank = still open."),
        _text("done_by", "Initials of who settled it."),
    ),
    key=("site", "snag"),
)  # fmt: skip

PHOTOS = Kind(
    "photos", "photo", "A photo taken at a site; the picture itself is kept in the register under its digest.",
    (
        SITE,
        _label("photo", "Number or label of the photo.", required=True),
        _text("file", "Name of the kept picture: its digest and what sort of picture it is.", required=True),
        _text("what", "What is to be seen."),
        _text("where", "Where it was taken: an enclosure, a room."),
        _date("taken_on", "When it was taken."),
        _text("taken_by", "Initials of who took it."),
    ),
    key=("site", "photo"),
)  # fmt: skip

# In the order in which one builds on another, which is also the order of the workbook's sheets.
BUILT_IN_KINDS: dict[str, Kind] = {
    k.name: k
    for k in (
        SITES, LOCATIONS, ENCLOSURES, PORTS, CABLES, CORES, SPLICES, TERMINATIONS, EQUIPMENT, INTERFACES,
        PATCHES, CHANNELS, TESTS, EVENTS, VISITS, SNAGS, PHOTOS, COLOUR_CODES, CHOICES,
        REFERENCE_VALUES,
    )
}  # fmt: skip

KINDS = Kinds(BUILT_IN_KINDS)  # these, then the plugins'


def site_kinds() -> list[Kind]:
    """Return the kinds whose rows belong to a site."""
    return [k for k in KINDS.values() if k.scope == "site"]


def plugin_kinds() -> list[Kind]:
    """Return the kinds that plugins add."""
    return [k for k in KINDS.values() if k.name not in BUILT_IN_KINDS]


def referring_to(kind: str) -> list[tuple[Kind, Link]]:
    """Return every (kind, link) whose link may name a record of `kind`."""
    return [(k, link) for k in KINDS.values() for link in k.links if kind in link.to]
