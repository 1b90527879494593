"""How a kind of record is declared: columns with type, unit, allowed values, links and help.

One declaration drives the Arrow schema, validation, workbook columns, form fields and the reference page.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import pyarrow as pa

ColumnType = Literal["label", "text", "integer", "number", "date", "yes/no"]

ARROW_TYPES: dict[str, pa.DataType] = {
    "label": pa.string(),
    "text": pa.string(),
    "integer": pa.int32(),
    "number": pa.float64(),
    "date": pa.date32(),
    "yes/no": pa.bool_(),
}


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a kind of record.

    allowed: the values it may hold; `open_list` says that they are suggestions and others may stand too.
    generated: filled from other records unless overruled (a core's colours).
    personal: personal data or an access secret, left out where a copy goes to strangers.
    """

    name: str
    type: ColumnType
    help: str
    unit: str = ""
    allowed: tuple[str, ...] = ()
    open_list: bool = False
    required: bool = False
    minimum: float | None = None
    maximum: float | None = None
    generated: bool = False
    personal: bool = False

    @property
    def arrow_type(self) -> pa.DataType:
        """Type of the column in the store."""
        return ARROW_TYPES[self.type]

    @property
    def title(self) -> str:
        """The column's name as people read it: ``length_m`` -> ``Length (m)``."""
        words = self.name.removesuffix(f"_{self.unit.lower()}") if self.unit else self.name
        text = words.replace("_", " ")
        text = text[:1].upper() + text[1:]
        return f"{text} ({self.unit})" if self.unit else text


@dataclass(frozen=True, slots=True)
class Link:
    """Columns of a row that name another record of the same site; all blank = no link."""

    columns: tuple[str, ...]
    to: tuple[str, ...]  # the kinds it may name (a cord's end: a port or an interface)


@dataclass(frozen=True)
class Kind:
    """One kind of record (a table). `key` columns come first and identify a row.

    scope "site": every row belongs to a site; "firm": the row is the firm's own and has no site.
    """

    name: str
    singular: str
    help: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    links: tuple[Link, ...] = field(default=())
    scope: Literal["site", "firm"] = "site"

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Column names, keys first."""
        return tuple(c.name for c in self.columns)

    @cached_property
    def by_name(self) -> dict[str, Column]:
        """Columns by name."""
        return {c.name: c for c in self.columns}

    @cached_property
    def schema(self) -> pa.Schema:
        """Arrow schema of the table in the store; key columns never hold null (a blank key is "")."""
        return pa.schema([pa.field(c.name, c.arrow_type, nullable=c.name not in self.key) for c in self.columns])

    @cached_property
    def coded_schema(self) -> pa.Schema:
        """Arrow schema of the table as it is read: text as dictionaries."""
        coded = pa.dictionary(pa.int32(), pa.string())
        return pa.schema([f.with_type(coded) if pa.types.is_string(f.type) else f for f in self.schema])

    @cached_property
    def values(self) -> tuple[Column, ...]:
        """The columns that are no keys."""
        return tuple(c for c in self.columns if c.name not in self.key)

    @property
    def own_key(self) -> tuple[str, ...]:
        """Key columns without the site."""
        return tuple(k for k in self.key if k != "site")

    def empty(self) -> pa.Table:
        """A table of this kind without rows."""
        return self.schema.empty_table()
