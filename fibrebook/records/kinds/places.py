"""Kinds of place: sites, locations, enclosures and the ports in them."""

from __future__ import annotations

from fibrebook.records.kinds.columns import (
    CONNECTORS,
    FIBRE_CLASSES,
    GRADES,
    NOTES,
    POLISHES,
    SITE,
    choice,
    label,
    text,
)
from fibrebook.records.kinds.declared import Column, Kind, Link

SITES = Kind(
    "sites", "site", "A customer's premises: everything that fibre joins.",
    (
        SITE,
        text("name", "Name of the site in full."),
        text("customer", "Who the work is done for."),
        text("address", "Where it is.", personal=True),
        text("contact", "Whom to ask for on site.", personal=True),
        text("access", "How to get in: keys, hours, gate codes.", personal=True),
        text("hazards", "What can hurt someone here."),
        NOTES,
    ),
    key=("site",),
)  # fmt: skip

LOCATIONS = Kind(
    "locations", "location", "A building, room, rack or cabinet at a site.",
    (
        SITE,
        label("location", "Short name of the place, unique at the site.", required=True),
        text("premises", "Whose premises, where neighbours share a site."),
        text("building", "Building it is in."),
        text("room", "Room it is in."),
        text("rack", "Rack or cabinet it is in."),
        NOTES,
    ),
    key=("site", "location"),
)  # fmt: skip

ENCLOSURES = Kind(
    "enclosures", "enclosure", "A housing where cores are joined: rack panel, wall box, joint closure.",
    (
        SITE,
        label("enclosure", "Label on the housing; shares one set of names with equipment.", required=True),
        label("location", "Where it is."),
        choice("kind", ("rack panel", "wall box", "joint closure"), "What sort of housing it is."),
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
        label("enclosure", "The enclosure it is in.", required=True),
        label("port", "Number or label of the adaptor.", required=True),
        label("position", "A or B on a duplex adaptor, blank on a simplex one."),
        choice("connector", CONNECTORS, "Connector the adaptor takes.", open_list=True),
        choice("polish", POLISHES, "Polish of the end face behind it."),
        choice("fibre_class", FIBRE_CLASSES, "Fibre class of the pigtail behind it.", open_list=True),
        choice("grade", GRADES, "Connector grade of IEC 61753-1; blank = standard grade."),
    ),
    key=("site", "enclosure", "port", "position"),
    links=(Link(("enclosure",), ("enclosures",)),),
)  # fmt: skip
