"""A kind of record of our own: ducts, the pipes between places that cables are drawn into."""

from __future__ import annotations

from fibrebook.records import Column, Kind, Link

DUCTS = Kind(
    "ducts",
    "duct",
    "A pipe or conduit between two places, into which cables are drawn.",
    (
        Column("site", "label", "The site it is at.", required=True),
        Column("duct", "label", "Label on the duct, unique at the site.", required=True),
        Column("a_location", "label", "Where its end A comes out.", required=True),
        Column("b_location", "label", "Where its end B comes out; blank = not yet known."),
        Column("cable", "label", "A cable that lies in it."),
        Column("inside_mm", "number", "Inside diameter.", unit="mm", minimum=1, maximum=1000),
        Column("cable_count", "integer", "How many cables lie in it.", minimum=0, maximum=200),
        Column("made_of", "text", "What it is made of.", allowed=("plastic", "steel", "clay")),
        Column("sealed", "yes/no", "Whether both ends are closed against water and gas."),
        Column("seen_on", "date", "When somebody last looked into it."),
        Column("owner", "text", "Whose it is, and whom to ask before it is opened.", personal=True),
        Column("notes", "text", "Anything else worth knowing."),
    ),
    key=("site", "duct"),
    links=(
        Link(("a_location",), ("locations",)),
        Link(("b_location",), ("locations",)),
        Link(("cable",), ("cables",)),
    ),
)
