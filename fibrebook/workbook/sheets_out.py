"""The register as a workbook that people enjoy: one sheet a table, and the way back built in."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import os
import uuid
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import InputError, place_in_words
from fibrebook.readers.files.about_sheet import ABOUT, LISTS, about_rows, heading
from fibrebook.readers.files.limits import column_letter
from fibrebook.readers.files.parsed import REMOVE
from fibrebook.records import KINDS, Column, Kind, as_label
from fibrebook.register import Register
from fibrebook.register import open as open_register
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.workbook.dropdowns import FIRST_DATE, PLACES, rules
from fibrebook.workbook.escape import NOT_IN_XML

WIDEST, NARROWEST = 44, 8
LINE_HEIGHT = 16  # points
NO_TIME = "2000-01-01T00:00:00Z"  # stands in the file's properties where the register is still empty


def send_out(
    reg: Register,
    path: str | os.PathLike[str],
    site: str | Sequence[str] | None = None,
    *,
    force: bool = False,
    personal: bool = True,
) -> Path:
    """Write the register, or some of its sites, as a workbook that carries the commit it was taken from.

    Parameters
    ----------
    path : .xlsx to write
    site : a site's label, several, or None for all
    force : write over a file that is there
    personal : with the columns that hold personal data or access secrets; False where the copy goes to strangers

    Returns
    -------
    Path of the file

    Raises
    ------
    InputError : the file is there already, or is no .xlsx
    NotFoundError : no such site

    Notes
    -----
    The same commit gives the same bytes (with the same versions of Python and openpyxl).
    """
    target = Path(path).expanduser()
    if target.suffix.lower() != ".xlsx":
        raise InputError(f"{target.name} is no .xlsx; a workbook is sent out as .xlsx")
    with place_in_words(f"no workbook can be written as {target}"):
        _may_be_written(target, force)
    sites = None if site is None else [as_label(s) for s in ([site] if isinstance(site, str | int) else site)]
    fixed = open_register(reg.where, at=reg.commit)  # all sheets speak of one commit
    tables = {k.name: _columns_of(fixed.arrow(k.name, sites), k, personal) for k in KINDS.values()}
    for name, table in tables.items():
        _refuse_unwritable(KINDS[name], table)
    book = _book(fixed, tables, sites)
    fresh = target.with_name(f".{target.stem}-{uuid.uuid4().hex[:8]}.xlsx")
    try:
        from fibrebook.workbook.zipped import settle

        with place_in_words(f"no workbook can be written as {target}"):
            whole = io.BytesIO()  # a writer that breaks off at a full disk would say so behind our back
            book.save(whole)
            fresh.write_bytes(whole.getvalue())
            settle(fresh, _time(fixed))
            fresh.replace(target)
    finally:
        with contextlib.suppress(OSError, ValueError):
            fresh.unlink()
    return target


def _may_be_written(target: Path, force: bool) -> None:
    if target.exists() and not force:
        raise InputError(f"{target} is there already; choose another name, or say force=True to write over it")
    if not target.parent.is_dir():
        raise InputError(f"there is no folder {str(target.parent)!r}; make it first")


def _columns_of(table: pa.Table, kind: Kind, personal: bool) -> pa.Table:
    return table if personal else table.select([c.name for c in kind.columns if not c.personal])


def _refuse_unwritable(kind: Kind, table: pa.Table) -> None:
    for name in table.column_names:
        if kind.by_name[name].type in ("label", "text"):
            column = table[name].cast(pa.string())
            if pc.any(pc.match_substring_regex(column, NOT_IN_XML).fill_null(False)).as_py():
                at = pc.index(pc.match_substring_regex(column, NOT_IN_XML).fill_null(False), True).as_py()
                key = "/".join(str(table[k][at].as_py()) for k in kind.key)
                where = f"{kind.name} {key}, column {name!r}"
                raise InputError(f"{where} holds a character that no workbook can hold; mend it")


def _time(reg: Register) -> str:
    return reg.committed_utc or NO_TIME


def _book(reg: Register, tables: dict[str, pa.Table], sites: Sequence[str] | None) -> Any:
    from openpyxl import Workbook

    from fibrebook.workbook.styles import Styles

    book = Workbook(write_only=True)
    book.properties.creator = "fibrebook"
    book.properties.created = dt.datetime.fromisoformat(_time(reg)).replace(tzinfo=None, microsecond=0)
    about = book.create_sheet(ABOUT)
    styles = Styles(about)
    _write_about(about, styles, reg, sites)
    origin = heading(reg.id, reg.commit)
    lists = _lists(reg, tables)
    lengths = {name: table.num_rows for name, table in tables.items()}
    at = {name: (number, len(words)) for number, (name, words) in enumerate(lists.items(), 1)}
    for kind in KINDS.values():
        kept = tuple(c for c in kind.columns if c.name in tables[kind.name].column_names)
        shown = Kind(kind.name, kind.singular, kind.help, kept, kind.key, kind.links, kind.scope)
        _write_table(book.create_sheet(kind.name), styles, shown, tables[kind.name], rules(shown, lengths, at), origin)
    _write_lists(book.create_sheet(LISTS), styles, lists)
    return book


def _write_about(sheet: Any, styles: Any, reg: Register, sites: Sequence[str] | None) -> None:
    sheet.column_dimensions["A"].width = 18
    sheet.column_dimensions["B"].width = 100
    _fit_to_page(sheet)
    digest = reg.commit_digest(reg.commit)
    rows = about_rows(reg.name, reg.id, reg.commit, reg.committed_utc, sites, reg.undeclared(), digest)
    for number, (word, text) in enumerate(rows, 1):
        sheet.row_dimensions[number].height = LINE_HEIGHT * (len(str(text)) // 95 + 1)
        sheet.append([styles.cell(sheet, word, ("bold",)), styles.cell(sheet, text, ("wrapped",))])


def _write_table(sheet: Any, styles: Any, kind: Kind, table: pa.Table, validations: Iterable[Any], origin: str) -> None:
    from openpyxl.styles import Protection

    from fibrebook.workbook.styles import format_of

    locked = kind.name == "cores"
    sheet.freeze_panes = f"{column_letter(len(kind.key) + 1)}2"
    last = column_letter(len(kind.columns) + 1)
    sheet.auto_filter.ref = f"A1:{last}{table.num_rows + 1}"
    for number, column in enumerate(kind.columns, 1):
        dimension = sheet.column_dimensions[column_letter(number)]
        dimension.width = _width(column, table[column.name])
        dimension.number_format = format_of(column)
        if locked:
            dimension.protection = Protection(locked=False)
    sheet.column_dimensions[last].width = len(REMOVE) + 4
    sheet.column_dimensions[column_letter(len(kind.columns) + 2)].hidden = True  # where the sheet was taken from
    if locked:
        sheet.column_dimensions[last].protection = Protection(locked=False)
        _protect(sheet)
    _fit_to_page(sheet)
    sheet.print_title_rows = "1:1"
    for rule in validations:
        sheet.data_validations.append(rule)
    _write_rows(sheet, styles, kind, table, locked, origin)


def _fit_to_page(sheet: Any) -> None:
    """Print across, as wide as the page and as long as it takes."""
    from openpyxl.worksheet.properties import PageSetupProperties

    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)


def _protect(sheet: Any) -> None:
    """Lock what is made from the cable; filtering, sorting, inserting and formatting stay allowed."""
    guard = sheet.protection
    for name in (
        "formatCells", "formatColumns", "formatRows", "insertColumns", "insertRows", "deleteRows", "sort", "autoFilter",
    ):  # fmt: skip
        setattr(guard, name, False)
    guard.enable()


def _write_rows(sheet: Any, styles: Any, kind: Kind, table: pa.Table, locked: bool, origin: str) -> None:
    from fibrebook.workbook.styles import colour_style, format_of, note

    remove = styles.cell(sheet, REMOVE, ("head",))
    remove.comment = note("Write yes to remove the row when this workbook is brought in.")
    told = styles.cell(sheet, origin, ("made",))
    told.comment = note("Leave this as it is: it tells what counts as changed when this sheet is brought in.")
    sheet.append([*(styles.head(sheet, kind, c) for c in kind.columns), remove, told])
    base: list[tuple[Any, ...]] = []
    for column in kind.columns:
        fixed = column.name in kind.key or column.generated
        base.append((format_of(column), *(() if fixed or not locked else ("unlocked",))))
    painted = [c.name.endswith("_colour") or c.name == "colour" for c in kind.columns]
    paints: dict[str, Any] = {}
    columns = [_cells(c, table[c.name]) for c in kind.columns]
    for values in zip(*columns, strict=True):
        row: list[Any] = []
        for value, style, paint in zip(values, base, painted, strict=True):
            if value is None and not locked:
                row.append(None)
                continue
            if paint and value:
                if value not in paints:
                    paints[value] = colour_style(value)
                style = (*style, paints[value]) if paints[value] else style
            row.append(styles.cell(sheet, value, style))
        sheet.append(row)


def _cells(column: Column, values: pa.ChunkedArray) -> list[Any]:
    """Return a column's values as cells hold them: yes and no as words, days that no spreadsheet knows as text."""
    found = values.to_pylist()
    if column.type == "yes/no":
        return [None if v is None else "yes" if v else "no" for v in found]
    if column.type == "date":
        return [v.isoformat() if v is not None and v < FIRST_DATE else v for v in found]
    return [None if v == "" else v for v in found]


def _width(column: Column, values: pa.ChunkedArray) -> float:
    longest = len(column.name) + 3
    if column.type in ("label", "text") and len(values):
        longest = max(longest, (pc.max(pc.utf8_length(values.cast(pa.string()))).as_py() or 0) + 2)
    elif column.type == "date":
        longest = max(longest, 12)
    return min(max(longest, NARROWEST), WIDEST)


def _lists(reg: Register, tables: dict[str, pa.Table]) -> dict[str, list[str]]:
    """Return the lists that no sheet holds by itself."""
    values = PlantSnapshot.of(reg).values
    places = {*_words(tables["enclosures"]["enclosure"]), *_words(tables["equipment"]["equipment"])}
    codes = [*KINDS["cables"].by_name["colour_code"].allowed, *values.own_codes]
    applications = values.applications()
    return {
        PLACES: sorted(places),
        "cables.colour_code": list(dict.fromkeys(codes)),
        "interfaces.application": applications,
        "channels.application": applications,
    }


def _words(column: pa.ChunkedArray) -> list[str]:
    return [w for w in column.cast(pa.string()).unique().to_pylist() if w]


def _write_lists(sheet: Any, styles: Any, lists: dict[str, list[str]]) -> None:
    sheet.sheet_state = "hidden"
    sheet.append([styles.cell(sheet, name, ("head",)) for name in lists])
    for i in range(max(map(len, lists.values()))):
        sheet.append([styles.cell(sheet, w[i], ("@",)) if i < len(w) else None for w in lists.values()])
