"""Our own hard rules, through the same door as a plugin's."""

from __future__ import annotations

from collections.abc import Iterable

from fibrebook.plugins import HardRule, hookimpl

ROOM = "fibrebook.records.rules"
OUR_RULES = (
    HardRule(
        "one key, one row",
        f"{ROOM}.keys:unique_keys",
        "A key stands once in its table.",
        stops=True,  # with double keys, links cannot be told apart
    ),
    HardRule("site there", f"{ROOM}.keys:site_there", "Each record is of a site that is there."),
    HardRule("links lead", f"{ROOM}.named:links_lead", "What a record names is there, at the same site."),
    HardRule(
        "shared names",
        f"{ROOM}.keys:shared_names",
        "Enclosures and equipment of a site share one set of names.",
        ("enclosures", "equipment"),
    ),
    HardRule(
        "cores of cables",
        f"{ROOM}.cores:cores_of_cables",
        "A core is of a cable that is there and within its count.",
        ("cores", "cables"),
    ),
    HardRule(
        "tube sizes add up",
        f"{ROOM}.cores:tube_sizes_add_up",
        "The tubes of a cable hold as many cores as it has.",
        ("cables",),
    ),
    HardRule(
        "splices fit",
        f"{ROOM}.joints:splices_fit",
        "A splice joins two core ends, each at its enclosure.",
        ("splices", "cables", "enclosures", "equipment"),
    ),
    HardRule(
        "terminations fit",
        f"{ROOM}.joints:terminations_fit",
        "A core is made off where its cable has an end.",
        ("terminations", "cables", "enclosures", "equipment"),
    ),
    HardRule(
        "cords fit",
        f"{ROOM}.joints:cords_fit",
        "A cord joins two positions; only its end b may be loose.",
        ("patches", "ports", "interfaces"),
    ),
    HardRule(
        "channels apart",
        f"{ROOM}.joints:channels_apart",
        "An interface belongs to one channel at most.",
        ("channels", "interfaces"),
    ),
    HardRule(
        "joined once",
        f"{ROOM}.joints:joined_once",
        "A core end, a port's rear, its front and an interface position are each joined at most once.",
        ("splices", "terminations", "patches", "cables", "ports", "interfaces", "enclosures", "equipment"),
    ),
)


@hookimpl
def hard_rules() -> Iterable[HardRule]:
    """Give the rules that the records keep among themselves."""
    return OUR_RULES
