"""Work done: tests and the events of a shot, visits, snags, photos."""

from __future__ import annotations

from fibrebook.records.kinds.columns import NOTES, SITE, choice, date, label, loss, text
from fibrebook.records.kinds.declared import Column, Kind, Link

TESTS = Kind(
    "tests", "test", "A light check, loss test or OTDR shot, from a position to a position or of a core.",
    (
        SITE,
        label("test", "Number or label of the test.", required=True),
        label("from_at", "Enclosure or equipment the light went in at."),
        label("from_port", "Port or interface there."),
        label("from_position", "Position there."),
        label("to_at", "Enclosure or equipment it came out at."),
        label("to_port", "Port or interface there."),
        label("to_position", "Position there."),
        label("cable", "The cable, where one core was tested."),
        Column("core", "integer", "The core, where one core was tested.", minimum=1),
        choice("method", ("light check", "loss test", "OTDR"), "How it was tested."),
        Column("wavelength_nm", "integer", "Wavelength.", unit="nm", minimum=600, maximum=1700),
        choice("direction", ("a to b", "b to a"), "Which way the light went."),
        choice("reference_method", ("one-cord", "two-cord", "three-cord"), "How the meter was zeroed."),
        loss("loss_db", "Loss found."),
        Column("length_m", "number", "Length found.", unit="m", minimum=0, maximum=500_000),
        choice("verdict", ("pass", "marginal", "fail"), "What was made of it."),
        text("instrument", "Instrument used."),
        date("tested_on", "When it was tested."),
        text("tested_by", "Initials of who tested it."),
        choice("cord_grade", ("reference", "standard"), "Grade of the test cords' plugs."),
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
        label("test", "The test it belongs to.", required=True),
        label("event", "Number of the event in the table.", required=True),
        Column("distance_m", "number", "Distance from where the light went in.", unit="m", minimum=0, maximum=500_000),
        Column("loss_db", "number", "Loss of the event; below 0 only for a gainer.", unit="dB", minimum=-5, maximum=40),
        Column("reflectance_db", "number", "Reflectance, a negative number.", unit="dB", minimum=-90, maximum=0),
        choice("what", ("start", "splice", "gainer", "connection", "bend", "break", "end"), "What it is taken for."),
        NOTES,
    ),
    key=("site", "test", "event"),
    links=(Link(("test",), ("tests",)),),
)  # fmt: skip

VISITS = Kind(
    "visits", "visit", "A day's work at a site.",
    (
        SITE,
        label("visit", "Number or label of the visit.", required=True),
        date("visited_on", "When."),
        text("visited_by", "Initials of who went."),
        text("done", "What was done."),
        NOTES,
    ),
    key=("site", "visit"),
)  # fmt: skip

SNAGS = Kind(
    "snags", "snag", "Something left open at a site.",
    (
        SITE,
        label("snag", "Number or label of the snag.", required=True),
        date("found_on", "When it was found."),
        text("what", "What is open."),
        text("where", "Where it is."),
        date("done_on", "When it was settled; blank = still open."),
        text("done_by", "Initials of who settled it."),
    ),
    key=("site", "snag"),
)  # fmt: skip

PHOTOS = Kind(
    "photos", "photo", "A photo taken at a site; the picture itself is kept in the register under its digest.",
    (
        SITE,
        label("photo", "Number or label of the photo.", required=True),
        text("file", "Name of the kept picture: its digest and what sort of picture it is.", required=True),
        text("what", "What is to be seen."),
        text("where", "Where it was taken: an enclosure, a room."),
        date("taken_on", "When it was taken."),
        text("taken_by", "Initials of who took it."),
    ),
    key=("site", "photo"),
)  # fmt: skip
