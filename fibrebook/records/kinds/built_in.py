"""The kinds of record there are, each declared once. Names are those of the design and the glossary."""

from __future__ import annotations

from fibrebook.records.kinds.cables import CABLES, CORES
from fibrebook.records.kinds.declared import Kind, Link
from fibrebook.records.kinds.equipment import CHANNELS, EQUIPMENT, INTERFACES
from fibrebook.records.kinds.every_kind import Kinds
from fibrebook.records.kinds.firm import CHOICES, COLOUR_CODES, REFERENCE_VALUES
from fibrebook.records.kinds.joints import PATCHES, SPLICES, TERMINATIONS
from fibrebook.records.kinds.places import ENCLOSURES, LOCATIONS, PORTS, SITES
from fibrebook.records.kinds.work import EVENTS, PHOTOS, SNAGS, TESTS, VISITS

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
