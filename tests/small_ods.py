"""The least open-document spreadsheet (OASIS OpenDocument 1.3) that tests need: sheets of texts, numbers, dates, errors."""

from __future__ import annotations

import datetime as dt
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

SPACES = " ".join(
    f'xmlns:{n}="urn:oasis:names:tc:opendocument:xmlns:{n}:1.0"' for n in ("office", "table", "text")
) + ' xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"'  # fmt: skip
KIND = "application/vnd.oasis.opendocument.spreadsheet"


class Error(str):
    """A cell that holds an error such as #REF!."""


def write_ods(path: Path, sheets: Mapping[str, Sequence[Sequence[Any]]], encrypted: bool = False) -> Path:
    """Write sheets of rows as an .ods."""
    tables = "".join(
        f'<table:table table:name="{escape(name)}">'
        + "".join(f"<table:table-row>{''.join(map(_cell, row))}</table:table-row>" for row in rows)
        + "</table:table>"
        for name, rows in sheets.items()
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {SPACES} office:version="1.3"><office:body>'
        f"<office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"
    )
    locked = "<manifest:encryption-data/>" if encrypted else ""
    manifest = (
        '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{KIND}">{locked}</manifest:file-entry>'
        "</manifest:manifest>"
    )
    with zipfile.ZipFile(path, "w") as book:
        book.writestr("mimetype", KIND)
        book.writestr("content.xml", content)
        book.writestr("META-INF/manifest.xml", manifest)
    return path


def _cell(value: Any) -> str:
    if value is None or value == "":
        return "<table:table-cell/>"
    if isinstance(value, Error):
        return (
            '<table:table-cell table:formula="of:=#REF!" office:value-type="string" calcext:value-type="error">'
            f"<text:p>{value}</text:p></table:table-cell>"
        )
    if isinstance(value, bool):
        return f'<table:table-cell office:value-type="boolean" office:boolean-value="{str(value).lower()}"/>'
    if isinstance(value, dt.date):
        return f'<table:table-cell office:value-type="date" office:date-value="{value.isoformat()}"/>'
    if isinstance(value, (int, float)):
        return f'<table:table-cell office:value-type="float" office:value="{value}"/>'
    lines = "".join(f"<text:p>{escape(line)}</text:p>" for line in str(value).split("\n"))
    return f'<table:table-cell office:value-type="string">{lines}</table:table-cell>'
