"""Active devices, their interfaces and the channels between them."""

from __future__ import annotations

from fibrebook.records.kinds.columns import SITE, choice, date, label, power, text
from fibrebook.records.kinds.declared import Kind, Link

EQUIPMENT = Kind(
    "equipment", "equipment", "A switch, converter or other active device.",
    (
        SITE,
        label("equipment", "Label on the device; shares one set of names with enclosures.", required=True),
        label("location", "Where it is."),
        text("kind", "What it is: switch, media converter, camera..."),
        text("label", "What is written on it besides."),
    ),
    key=("site", "equipment"),
    links=(Link(("location",), ("locations",)),),
)  # fmt: skip

INTERFACES = Kind(
    "interfaces", "interface", "One optical port of equipment, one row a fibre.",
    (
        SITE,
        label("equipment", "The equipment it is on.", required=True),
        label("interface", "Number or label of the interface.", required=True),
        choice("position", ("Tx", "Rx", "TxRx"), "Transmit, receive, or both over one fibre.", required=True),
        text("application", "What the optic speaks: 1000BASE-LX, 10GBASE-SR..."),
        power("launch_min_dbm", "Least launch power of the optic."),
        power("launch_max_dbm", "Greatest launch power of the optic."),
        power("receive_min_dbm", "Least power its receiver needs."),
        power("receive_max_dbm", "Greatest power its receiver bears."),
    ),
    key=("site", "equipment", "interface", "position"),
    links=(Link(("equipment",), ("equipment",)),),
)  # fmt: skip

CHANNELS = Kind(
    "channels", "channel", "A connection in use, from equipment to equipment.",
    (
        SITE,
        label("channel", "Name of the channel.", required=True),
        text("purpose", "What it serves."),
        text("application", "What runs over it: 1000BASE-LX, 10GBASE-SR..."),
        label("a_equipment", "Equipment at one end.", required=True),
        label("a_interface", "Interface there.", required=True),
        label("b_equipment", "Equipment at the other end.", required=True),
        label("b_interface", "Interface there.", required=True),
        date("in_use_since", "When it went into use."),
    ),
    key=("site", "channel"),
    links=(
        Link(("a_equipment", "a_interface"), ("interfaces",)),
        Link(("b_equipment", "b_interface"), ("interfaces",)),
    ),
)  # fmt: skip
