"""What a layout says: how a firm's own spreadsheet is to be read. LAYOUTS.md tells it to people."""

from __future__ import annotations

import string
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from fibrebook.readers.files.sheets import shown
from fibrebook.readers.layouts.patterns import Pattern, fits

ALWAYS_KNOWN = ("sheet", "file")  # fields that every line has: names of its sheet and file
TYPES = ("text", "whole number", "number", "date", "colour", "yes/no")
SOURCES = ("heading", "letter", "cell", "right_of", "below", "constant", "of", "made_of", "number_within")
OTHERWISE = ("problem", "blank", "keep")
ON_CLASH = ("problem", "first", "last", "join")


@dataclass(frozen=True)
class Template:
    """Text with fields in braces; a lone ``{core}`` passes the value on as it is, whatever its type."""

    text: str

    @property
    def fields(self) -> tuple[str, ...]:
        """Names of the fields in braces."""
        return tuple(name for _, name, _, _ in string.Formatter().parse(self.text) if name is not None)

    @property
    def is_plain(self) -> bool:
        """Whether its braces hold names alone, without instructions how to print them."""
        return not any(how or spec for _, _, spec, how in string.Formatter().parse(self.text))

    def fill(self, line: Mapping[str, Any]) -> Any:
        """Return the filled text; None where any of its fields is blank."""
        names = self.fields
        if any(line.get(n) is None for n in names):
            return None
        if len(names) == 1 and self.text == f"{{{names[0]}}}":
            return line[names[0]]
        return self.text.format_map({n: shown(line[n]) for n in names})


@dataclass(frozen=True)
class JoinedTemplates:
    """Several templates; those that are not blank, joined by "; "."""

    parts: tuple[Template, ...]

    @property
    def fields(self) -> tuple[str, ...]:
        """Names of the fields in any part."""
        return tuple(dict.fromkeys(n for p in self.parts for n in p.fields))

    def fill(self, line: Mapping[str, Any]) -> Any:
        """Return the joined text; None where every part is blank."""
        texts = [shown(v) for p in self.parts if (v := p.fill(line)) is not None]
        return "; ".join(texts) or None


@dataclass(frozen=True)
class Constant:
    """One value for every line."""

    value: Any
    fields: tuple[str, ...] = ()

    def fill(self, line: Mapping[str, Any]) -> Any:
        """Return the value."""
        return self.value


@dataclass(frozen=True)
class Aggregate:
    """A value over all lines that make the same record: the highest of a field, or how many lines have it."""

    how: str  # "highest" or "count"
    field: str

    @property
    def fields(self) -> tuple[str, ...]:
        """The field that it looks at."""
        return (self.field,)


Value = Template | JoinedTemplates | Constant | Aggregate


@dataclass(frozen=True)
class Field:
    """A named value of each line: where it stands (one source) and how it is read.

    A field without a source is a group of another field's pattern; its section says only how that group is read.
    """

    name: str
    source: str = ""  # one of SOURCES
    at: Any = None  # what the source says: headings, a letter, a cell, words, a value, fields, a Template
    nth: int = 1
    optional: bool = False
    fill_down: bool = False
    needed: bool = False
    blank: tuple[str, ...] = ()
    replace: tuple[tuple[Pattern, str], ...] = ()
    case: str = ""
    map: Mapping[str, str] = field(default_factory=dict)
    only_mapped: bool = False
    pattern: Pattern | None = None
    otherwise: str = "problem"
    type: str = "text"
    decimal: str = "."
    unit: tuple[str, ...] = ()
    dates: tuple[str, ...] = ()
    drop_time: bool = False
    default: str | None = None

    @property
    def groups(self) -> tuple[str, ...]:
        """Fields that the pattern's named groups make."""
        return tuple(self.pattern.groupindex) if self.pattern else ()


@dataclass(frozen=True)
class RecordTemplate:
    """Records that a line makes in one table."""

    table: str
    columns: Mapping[str, Value]
    compare: Mapping[str, Template] = field(default_factory=dict)
    when: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    where: Mapping[str, Pattern] = field(default_factory=dict)
    on_clash: str = "problem"

    def wanted(self, line: Mapping[str, Any]) -> bool:
        """Tell whether a line makes this record."""
        return (
            all(line.get(n) is not None for n in self.when)
            and all(line.get(n) is None for n in self.unless)
            and all(line.get(n) is not None and fits(p, shown(line[n])) for n, p in self.where.items())
        )


@dataclass(frozen=True)
class Layout:
    """How a spreadsheet is read: which sheets, where their tables stand, fields of a line, records made of it."""

    name: str
    fields: Mapping[str, Field]
    rows: Sequence[RecordTemplate]
    title: str = ""
    encoding: str = ""
    delimiter: str = ""
    only: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    hidden: bool = False
    header_row: int | None = None
    header_has: tuple[str, ...] = ()
    header_rows: int = 1
    ends_at: tuple[str, ...] = ()
    ends_after_blank_rows: int = 0
    fill_merged: bool = True
    blank: tuple[str, ...] = ()


def normalised(text: object) -> str:
    """Return text for comparing: small letters, single spaces, no colon or full stop at the end."""
    return " ".join(str(text).casefold().split()).rstrip(":. ")


def matches(pattern: str, text: object) -> bool:
    """Compare two texts as `normalised` does; a star in the pattern stands for anything."""
    first, *rest = normalised(pattern).split("*")
    left = normalised(text)
    if not rest:
        return left == first
    if not left.startswith(first):
        return False
    left = left[len(first) :]
    for part in rest[:-1]:  # the earliest place leaves most for what follows
        _, found, left = left.partition(part) if part else ("", "*", left)
        if not found:
            return False
    return left.endswith(rest[-1])
