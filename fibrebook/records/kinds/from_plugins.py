"""The kinds of record that plugins add, each looked at before anything relies on it; a fault names the plugin."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

from fibrebook.plugins import gathered, note
from fibrebook.records.kinds.declared import ARROW_TYPES, Column, Kind, Link

NAME = re.compile(r"[a-z][a-z0-9_]*")
LONGEST_NAME = 31  # a spreadsheet's sheet bears no longer one
NO_TABLE = re.compile(r"about|lists|con|prn|aux|nul|(com|lpt)\d")  # other sheets; names that Windows keeps for itself
REMOVE = "remove"  # the workbook's own last column
TEXT, NUMBERS = ("label", "text"), ("integer", "number")
ONE_SET_OF_NAMES = ({"enclosures", "equipment"}, {"ports", "interfaces"})  # what a link to two kinds may name


def gathered_kinds(built_in: Mapping[str, Kind]) -> dict[str, Kind]:
    """Return the kinds of record of all plugins by name, in the order of the plugins.

    A plugin with a faulty declaration adds no kind at all, and is noted as not well with the kind and what is wrong.

    Parameters
    ----------
    built_in : the kinds there are without plugins
    """
    given = gathered("record_kinds")
    while True:  # leaving one plugin out may leave another's link without what it names
        found: dict[str, Kind] = {}
        faulty = next((plugin for plugin, kinds in given if _leads_to_fault(plugin, kinds, built_in, found)), None)
        everything = {**built_in, **found}
        if faulty is None:
            faulty = next((plugin for plugin, kinds in given if _links_faulty(plugin, kinds, everything)), None)
        if faulty is None:
            return found
        given = [(plugin, kinds) for plugin, kinds in given if plugin != faulty]


def _leads_to_fault(plugin: str, kinds: Iterable[object], built_in: Mapping[str, Kind], found: dict[str, Kind]) -> bool:
    """Add a plugin's kinds to those found; tell whether one is faulty, which is noted."""
    for kind in kinds:
        if not isinstance(kind, Kind):
            note(plugin, "record_kinds", f"its record_kinds give {kind!r}, which is no Kind")
            return True
        for fault in [*_own_faults(kind), *_taken(kind, [*built_in.values(), *found.values()])][:1]:
            note(plugin, "record_kinds", f"the kind of record {kind.name!r} {fault}")
            return True
        found[kind.name] = kind
    return False


def _links_faulty(plugin: str, kinds: Iterable[Kind], everything: Mapping[str, Kind]) -> bool:
    for kind in kinds:
        for link in kind.links:
            for fault in _link_faults(kind, link, everything):
                note(plugin, "record_kinds", f"the kind of record {kind.name!r} {fault}")
                return True
    return False


def _taken(kind: Kind, others: Iterable[Kind]) -> Iterator[str]:
    for other in others:
        if kind.name == other.name:
            yield "bears the name of another kind: give it another name"
        if kind.singular.casefold() == other.singular.casefold():
            yield f"has the singular {kind.singular!r}, which is that of {other.name!r}: give it another"


def _own_faults(kind: Kind) -> Iterator[str]:
    """Give what is wrong with a declaration by itself, the worst first."""
    if not (isinstance(kind.name, str) and NAME.fullmatch(kind.name)):
        yield "has a name that is no plain lower-case identifier: write it as 'ducts'"
        return
    if len(kind.name) > LONGEST_NAME or NO_TABLE.fullmatch(kind.name):
        yield f"has a name that no sheet or file may have (at most {LONGEST_NAME} characters): give it another"
    for what in ("singular", "help"):
        text = getattr(kind, what)
        if not (isinstance(text, str) and text.strip() and text.isprintable()):
            yield f"has no {what} in words"
            return
    for what in ("columns", "key", "links"):
        if not isinstance(getattr(kind, what), tuple):
            yield f"gives its {what} as {type(getattr(kind, what)).__name__}: write a tuple"
            return
    for column in kind.columns:
        if not isinstance(column, Column):
            yield f"has the column {column!r}, which is no Column"
            return
        yield from column_faults(column)
    names = [c.name for c in kind.columns]
    twice = next((n for n in names if names.count(n) > 1), None)
    if twice is not None:
        yield f"has two columns of the name {twice!r}"
    yield from _key_faults(kind, names)


def column_faults(column: Column) -> Iterator[str]:
    """Give what is wrong with a column by itself, the worst first."""
    where = f"has the column {column.name!r}"
    if not (isinstance(column.name, str) and NAME.fullmatch(column.name)):
        yield f"{where}, whose name is no plain lower-case identifier"
    elif column.name == REMOVE:
        yield f"{where}, which is the workbook's own mark for rows that are to go: give it another name"
    if column.type not in ARROW_TYPES:
        yield f"{where} of the unknown type {column.type!r}: types are {', '.join(ARROW_TYPES)}"
        return
    if not (isinstance(column.help, str) and column.help.strip()):
        yield f"{where} without help: say in words what it holds"
    if not isinstance(column.unit, str):
        yield f"{where}, whose unit {column.unit!r} is no text"
    if not isinstance(column.allowed, tuple) or not all(
        isinstance(w, str) and w.strip() == w != "" for w in column.allowed
    ):
        yield f"{where}, whose allowed values are no tuple of words"
    elif column.allowed and (column.type not in TEXT or any(c in w for w in column.allowed for c in ',"')):
        yield f"{where}, whose allowed values no drop-down can offer: only text, without commas and double quotes"
    bounds = [b for b in (column.minimum, column.maximum) if b is not None]
    numbers = all(isinstance(b, int | float) and b == b for b in bounds)
    if bounds and (column.type not in NUMBERS or not numbers or bounds != sorted(bounds)):
        yield f"{where}, whose bounds are no numbers from least to greatest of a number"
    if column.generated:
        yield f"{where}, which is said to be generated: only fibrebook's own are, write it without"


def _key_faults(kind: Kind, names: list[str]) -> Iterator[str]:
    if kind.scope not in ("site", "firm"):
        yield f"has the scope {kind.scope!r}: it is 'site' or 'firm'"
        return
    if kind.scope == "site" and kind.key[:1] != ("site",):
        yield "belongs to a site, so 'site' must be the first column of its key"
        return
    if not kind.own_key:
        yield "has no key column of its own: name what tells its rows apart"
        return
    missing = next((k for k in kind.key if k not in names), None)
    if missing is not None:
        yield f"has the key column {missing!r}, which is none of its columns"
        return
    if tuple(names[: len(kind.key)]) != kind.key:
        yield f"does not begin with its key columns in their order: {', '.join(kind.key)}"
        return
    if kind.scope == "firm" and "site" in names:
        yield "is the firm's own and has a column 'site': such rows belong to no site"
        return
    keys = [c for c in kind.columns if c.name in kind.key]
    if kind.scope == "site" and (keys[0].type != "label" or not keys[0].required):
        yield "must have 'site' as a required label"
    if keys[-1].type not in (*TEXT, "integer") or any(k.type not in (*TEXT, "integer") for k in keys):
        yield "has a key column that is no label, text or integer"
    if any(k.type == "integer" and not k.required for k in keys):
        yield "has a key column of whole numbers that is not required: a blank number tells no row from another"
    optional = [not k.required for k in keys]
    if optional != sorted(optional) or all(optional):
        yield "has a key column that may be blank before one that may not, or none that must be given"
    for column in kind.columns:
        if column.personal and (column.required or column.name in kind.key or kind.scope == "firm"):
            yield f"has the personal column {column.name!r}, which must be one of a site's that may be blanked"


def _link_faults(kind: Kind, link: Link, kinds: Mapping[str, Kind]) -> Iterator[str]:
    """Give what is wrong with a link, now that every kind is known."""
    if not isinstance(link, Link) or not (isinstance(link.columns, tuple) and isinstance(link.to, tuple)):
        yield f"has the link {link!r}, which is no Link of tuples"
        return
    told = f"has a link by {', '.join(map(repr, link.columns))}"
    if not link.columns or not link.to:
        yield f"{told} that names no column or no kind"
        return
    if kind.scope != "site":
        yield f"{told}: only a site's records name others, of the same site"
        return
    for name in link.columns:
        if name not in kind.names:
            yield f"{told}, but has no column {name!r}"
            return
    if len(link.to) > 1 and set(link.to) not in ONE_SET_OF_NAMES:
        several = " or ".join(map(repr, link.to))
        yield f"{told} to {several}: a label must be of one kind, or of two that share one set of names"
    for to in link.to:
        yield from _misfit(kind, link, to, kinds, told)


def _misfit(kind: Kind, link: Link, to: str, kinds: Mapping[str, Kind], told: str) -> Iterator[str]:
    if to not in kinds:
        yield f"{told} to {to!r}, which is no kind of record; those are: {', '.join(kinds)}"
        return
    target = kinds[to]
    wanted = target.own_key if target.scope == "site" else ()
    if not wanted:
        yield f"{told} to {to!r}, whose records are not named so: a link names a record of the same site"
    elif len(link.columns) > len(wanted) or any(
        (kind.by_name[c].type == "integer") != (target.by_name[k].type == "integer")
        or kind.by_name[c].type not in (*TEXT, "integer")
        for c, k in zip(link.columns, wanted, strict=False)
    ):
        yield f"{told} to {to!r}, which does not fit: its records are named by {', '.join(wanted)}"
