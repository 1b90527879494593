"""An open-document sheet with two header rows: end A and end B side by side."""

from __future__ import annotations

import zipfile
from pathlib import Path
from xml.sax.saxutils import escape

from demo_maker.book import FIXED

Cell = str | int | float | tuple[str, int]  # a tuple is text and how many columns it spans

TOP: tuple[Cell, ...] = ("Cable", ("Core", 2), ("End A", 3), ("End B", 3), "Loss dB", "Remarks")
UNDER: tuple[Cell, ...] = ("", "No", "Colour", "Panel", "Port", "Pos", "Panel", "Port", "Pos", "1310 nm", "")
COLOURS = (
    "red",
    "green",
    "blue",
    "yellow",
    "white",
    "grey",
    "brown",
    "violet",
    "turquoise",
    "black",
    "orange",
    "pink",
)


def rows() -> list[tuple[Cell, ...]]:
    """Give the title, the two header rows, and the lines of two cables."""
    out: list[tuple[Cell, ...]] = [
        (("Waterworks (invented): cores by end, colours as IEC 60304", 11),),
        (),
        TOP,
        UNDER,
    ]
    for cable, cores, a, b, made_b in (("W1", 24, "P1", "P2", 20), ("W2", 12, "P2", "WB1", 6)):
        for core in range(1, cores + 1):
            port, position = (core + 1) // 2, "A" if core % 2 else "B"
            a_port = port + (12 if cable == "W2" else 0)
            far: tuple[Cell, ...] = (b, port, position) if core <= made_b else ("", "", "")
            loss: Cell = round(0.31 + 0.07 * (core % 5), 2) if core <= made_b else "-"
            remark = {3: "=see drawing", 9: "+2 spare", 22: "coiled"}.get(core, "") if cable == "W1" else ""
            out.append(
                (
                    cable if core == 1 else "",
                    core,
                    COLOURS[(core - 1) % 12] + (" ring" if core > 12 else ""),
                    a,
                    a_port,
                    position,
                    *far,
                    loss,
                    remark,
                )
            )
    return out


def cell_xml(cell: Cell) -> str:
    """Write one cell; text that spans several columns covers the ones after it."""
    text, span = cell if isinstance(cell, tuple) else (cell, 1)
    if text == "":
        return "<table:table-cell/>"
    spans = f' table:number-columns-spanned="{span}" table:number-rows-spanned="1"' if span > 1 else ""
    number = f'office:value-type="float" office:value="{text}"'
    kind = 'office:value-type="string"' if isinstance(text, str) else number
    covered = "<table:covered-table-cell/>" * (span - 1)
    return f"<table:table-cell {kind}{spans}><text:p>{escape(str(text))}</text:p></table:table-cell>{covered}"


def write(path: Path) -> int:
    """Write the file; give the number of cores in it."""
    body = "".join(f"<table:table-row>{''.join(map(cell_xml, r)) or cell_xml('')}</table:table-row>" for r in rows())
    spaces = "".join(
        f' xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for short, name in (("office", "office"), ("table", "table"), ("text", "text"))
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content{spaces} office:version="1.2">'
        f'<office:body><office:spreadsheet><table:table table:name="Cores">{body}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        '<?xml version="1.0" encoding="UTF-8"?><manifest:manifest'
        ' xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" manifest:version="1.2">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/>'
        '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>'
        "</manifest:manifest>"
    )
    with zipfile.ZipFile(path, "w") as file:
        parts = (("mimetype", kind), ("content.xml", content), ("META-INF/manifest.xml", manifest))
        for name, text in parts:
            entry = zipfile.ZipInfo(name, FIXED.timetuple()[:6])
            entry.create_system = 3
            entry.compress_type = zipfile.ZIP_STORED if name == "mimetype" else zipfile.ZIP_DEFLATED
            file.writestr(entry, text)
    return len(rows()) - 4
