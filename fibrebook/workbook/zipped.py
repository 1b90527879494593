"""A workbook's zip written again, so that the same register gives the same bytes and no needless warnings show."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

DAY = (1980, 1, 1, 0, 0, 0)  # the earliest time that a zip can hold
_MODIFIED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*(</dcterms:modified>)")
_IGNORED = b'<ignoredErrors><ignoredError sqref="A1:XFD1048576" numberStoredAsText="1"/></ignoredErrors>'
_AFTER = (b"<smartTags", b"<drawing", b"<legacyDrawing", b"<picture", b"<tableParts", b"<extLst", b"</worksheet>")


def settle(path: Path, time_utc: str) -> None:
    """Rewrite a workbook in place with fixed times; labels such as 12 bear no "number stored as text" mark."""
    with zipfile.ZipFile(path) as old:
        parts = [(i.filename, old.read(i)) for i in old.infolist()]
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name, data in parts:
            if name == "docProps/core.xml":
                data = _MODIFIED.sub(rb"\g<1>" + time_utc.encode() + rb"\g<2>", data)
            elif name.startswith("xl/worksheets/sheet"):
                data = _with_ignored_errors(data)
            entry = zipfile.ZipInfo(name, DAY)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o600 << 16
            new.writestr(entry, data)


def _with_ignored_errors(data: bytes) -> bytes:
    """Put the mark where ECMA-376 wants it: after page settings, before drawings and what follows them."""
    tail = data.rfind(b"</sheetData>")
    places = [p for p in (data.find(tag, tail) for tag in _AFTER) if p >= 0]
    if tail < 0 or not places:
        return data
    at = min(places)
    return data[:at] + _IGNORED + data[at:]
