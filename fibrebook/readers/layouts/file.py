"""A layout from its TOML file; every fault is named by file and key, with what would be right."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fibrebook.errors import LayoutError, NotFoundError, Problem
from fibrebook.readers.layouts.keys import TomlSection
from fibrebook.readers.layouts.layout import (
    ALWAYS_KNOWN,
    ON_CLASH,
    OTHERWISE,
    SOURCES,
    TYPES,
    Aggregate,
    Constant,
    Field,
    JoinedTemplates,
    Layout,
    RecordTemplate,
    Template,
    Value,
)
from fibrebook.records import KINDS, Kind
from fibrebook.regular_files import read_regular
from fibrebook.words.nearest import did_you_mean

MOST_BYTES = 2_000_000
CELL = re.compile(r"[A-Za-z]{1,3}[1-9]\d{0,6}")
LETTER = re.compile(r"[A-Za-z]{1,3}")


def read_layout(path: str | os.PathLike[str]) -> Layout:
    """Read a layout file.

    Raises
    ------
    NotFoundError : no such file
    LayoutError : not TOML, an unknown key, a value that cannot be; `problems` names every fault
    """
    source = Path(path)
    try:
        data = tomllib.loads(read_regular(source, MOST_BYTES).decode("utf-8"))
    except FileNotFoundError:
        raise NotFoundError(f"there is no layout {str(source)!r}; look at its name and folder") from None
    except OSError as error:
        raise LayoutError(f"the layout {source} cannot be read: {error.strerror or error}") from error
    except (ValueError, RecursionError) as error:  # whole numbers and nesting beyond what the reader takes, too
        raise LayoutError(f"{source.name} is no TOML file: {error}") from error
    return layout_from(data, source.name)


def layout_from(data: Mapping[str, Any], name: str) -> Layout:
    """Make a layout of what a TOML file holds; LayoutError with every fault found."""
    problems: list[Problem] = []
    top = TomlSection(data, name, "", problems)
    file, sheets, table = (top.section(n) for n in ("file", "sheets", "table"))
    fields = {n: _field(s) for n, s in top.sections("fields").items()}
    rows = [_made(s) for s in top.list_of_sections("rows")]
    layout = Layout(
        name,
        fields,
        [r for r in rows if r is not None],
        title=top.text("title"),
        blank=top.texts("blank"),
        encoding=file.text("encoding"),
        delimiter=file.text("delimiter"),
        only=sheets.texts("only"),
        without=sheets.texts("except"),
        hidden=sheets.flag("hidden"),
        header_row=table.whole("header_row", 1) if "header_row" in table else None,
        header_has=table.texts("header_has"),
        header_rows=table.whole("header_rows", 1, 10) or 1,
        ends_at=table.texts("ends_at"),
        ends_after_blank_rows=table.whole("ends_after_blank_rows", 0) or 0,
        fill_merged=table.flag("fill_merged", True),
    )
    if (layout.header_row is None) == (not layout.header_has):
        table.bad("", "give either header_row (a number) or header_has (words that stand in the header row)")
    if len(layout.delimiter) > 1 or layout.delimiter in ('"', "\r", "\n", "\0"):
        file.bad("delimiter", 'is one character, as ";"')
    if not fields:
        top.bad("fields", "name at least one field, as [fields.cable]")
    if not rows:
        top.bad("rows", "name at least one table that lines make, as [[rows]]")
    for section in (file, sheets, table, top):
        section.done()
    if not problems:
        _check_names(layout, problems)
    if problems:
        raise LayoutError(f"the layout {name} is wrong in {len(problems)} place(s)", problems)
    return layout


def _field(s: TomlSection) -> Field:
    given = [n for n in SOURCES if n in s]
    source = given[0] if given else ""
    if len(given) > 1:
        s.bad("", f"has several sources ({', '.join(given)}); keep one")
    field = Field(
        s.last,
        source,
        _source(s, source),
        nth=s.whole("nth", 1) or 1,
        optional=s.flag("optional"),
        fill_down=s.flag("fill_down"),
        needed=s.flag("needed"),
        blank=s.texts("blank"),
        replace=s.replacements("replace"),
        case=s.choice("case", ("", "upper", "lower"), ""),
        map=s.mapping("map"),
        only_mapped=s.flag("only_mapped"),
        pattern=s.pattern("pattern"),
        otherwise=s.choice("otherwise", OTHERWISE, "problem"),
        type=s.choice("type", TYPES, "text"),
        decimal=s.choice("decimal", (".", ","), "."),
        unit=s.texts("unit"),
        dates=s.dates("dates"),
        drop_time=s.flag("drop_time"),
        default=s.text("default") or None,
    )
    s.done()
    return field


def _source(s: TomlSection, source: str) -> Any:
    if source in ("heading", "right_of", "below", "number_within"):
        return s.texts(source)
    if source == "constant":
        return s.scalar(source)
    text = s.text(source) if source else ""
    if source == "letter" and not LETTER.fullmatch(text):
        s.bad(source, 'is a column letter, as "C"')
    if source == "cell" and not CELL.fullmatch(text):
        s.bad(source, 'is a cell, as "B2"')
    if source == "made_of":
        return s.template(source)
    return text


def _made(s: TomlSection) -> RecordTemplate | None:
    table = s.choice("table", tuple(KINDS), "")
    columns, compare = s.section("columns"), s.section("compare")
    made = RecordTemplate(
        table,
        {n: v for n in columns.names if (v := _value(columns, n)) is not None},
        {n: t for n in compare.names if (t := compare.template(n)) is not None},
        when=s.texts("when"),
        unless=s.texts("unless"),
        where=s.patterns("where"),
        on_clash=s.choice("on_clash", ON_CLASH, "problem"),
    )
    s.done()
    if table not in KINDS:
        if "table" not in s:
            s.bad("table", f"name the table that the line makes: {', '.join(KINDS)}")
        return None
    for part in (columns, compare):
        for name in part.names:
            part.known(name, KINDS[table].names, f"table {table!r} has no column {name!r}")
    _check_keys(columns, made, KINDS[table])
    return made


def _check_keys(columns: TomlSection, made: RecordTemplate, kind: Kind) -> None:
    for key in kind.key:
        if key not in made.columns and kind.by_name[key].required:
            columns.bad(key, f'is a key column of {kind.name!r}: say how it is made, as {key} = "{{{key}}}"')


def _value(s: TomlSection, name: str) -> Value | None:
    value = s.raw(name)
    if isinstance(value, str):
        return s.template(name)
    if isinstance(value, list) and value and all(isinstance(v, str) for v in value):
        parts = [s.template_of(name, v) for v in value]
        return JoinedTemplates(tuple(p for p in parts if p is not None))
    if isinstance(value, dict) and len(value) == 1:
        how, of = next(iter(value.items()))
        if how in ("highest", "count") and isinstance(of, str):
            return Aggregate(how, of)
    if isinstance(value, bool | int | float) or hasattr(value, "isoformat"):
        return Constant(value)
    s.bad(name, 'is a template as "{panel}", a list of them, a value, or { highest = "core" } or { count = "core" }')
    return None


def _check_names(layout: Layout, problems: list[Problem]) -> None:
    """Every field that is named must be made somewhere, and derived ones only of what is read before them."""
    known = set(ALWAYS_KNOWN)
    for derived in (False, True):
        for field in layout.fields.values():
            if not field.source or (field.source in ("of", "made_of", "number_within")) != derived:
                continue
            if derived:
                names = (field.at,) if field.source == "of" else field.at
                names = names.fields if isinstance(names, Template) else names
                _missing(layout, f"fields.{field.name}.{field.source}", names, known, problems)
            known |= {field.name, *field.groups}
    made = {g for f in layout.fields.values() for g in f.groups}
    for field in layout.fields.values():
        if not field.source and field.name not in made:
            what = f"say where it stands: one of {', '.join(SOURCES)}"
            problems.append(Problem(f"{layout.name}, fields.{field.name}", "has no source", what))
    for number, made_rows in enumerate(layout.rows, 1):
        where = f"rows (number {number}, table {made_rows.table!r})"
        for column, value in [*made_rows.columns.items(), *made_rows.compare.items()]:
            _missing(layout, f"{where}, column {column}", value.fields, known, problems)
        for key in ("when", "unless", "where"):
            _missing(layout, f"{where}.{key}", tuple(getattr(made_rows, key)), known, problems)


def _missing(layout: Layout, where: str, names: Any, known: set[str], problems: list[Problem]) -> None:
    for name in names:
        if name not in known:
            remedy = did_you_mean(name, sorted(known), 1, f"fields are: {', '.join(sorted(known))}")
            if name in layout.fields and layout.fields[name].source:
                remedy = f"[fields.{name}] is read later; put it before"
            problems.append(Problem(f"{layout.name}, {where}", f"there is no field {name!r} yet", remedy))
