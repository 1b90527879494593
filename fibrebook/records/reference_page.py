"""The reference page of all records, written from their declarations: python -m fibrebook.records.reference_page"""

from __future__ import annotations

from pathlib import Path

from fibrebook.records.kinds.built_in import BUILT_IN_KINDS
from fibrebook.records.kinds.declared import Column, Kind

PAGE = Path(__file__).with_name("RECORDS.md")
HEAD = """# Records

Every kind of record and every column, as declared in `fibrebook/records/`. A workbook has a sheet of each name,
with these columns in its first row. Key columns are **bold**: together they identify a row, within its site. Labels are
text; `1`, `1.0` and `"1"` are the same label.
"""


def reference_page() -> str:
    """Return the page of the built-in kinds as Markdown; what plugins add is theirs to describe."""
    return "\n".join([HEAD, *(_kind(kind) for kind in BUILT_IN_KINDS.values())])


def _kind(kind: Kind) -> str:
    scope = "" if kind.scope == "site" else " The firm's own: a row belongs to no site."
    links = [
        f"`{', '.join(link.columns)}` names a record of {' or '.join(f'`{t}`' for t in link.to)}" for link in kind.links
    ]
    lines = [f"## {kind.name}", "", kind.help + scope, ""]
    lines += ["| column | type | unit | may hold | meaning |", "| --- | --- | --- | --- | --- |"]
    lines += [_column(column, column.name in kind.key) for column in kind.columns]
    lines += ["", "Links: " + "; ".join(links) + "."] if links else []
    return "\n".join([*lines, ""])


def _column(column: Column, is_key: bool) -> str:
    name = f"**{column.name}**" if is_key else column.name
    marks = [m for m, so in (("must be given", column.required), ("filled in", column.generated)) if so]
    marks += ["personal"] if column.personal else []
    told = column.help + (f" *({', '.join(marks)})*" if marks else "")
    return f"| {name} | {column.type} | {column.unit} | {_may_hold(column)} | {told} |"


def _may_hold(column: Column) -> str:
    if column.allowed:
        return ", ".join(column.allowed) + (", or another" if column.open_list else "")
    if column.minimum is None and column.maximum is None:
        return ""
    low = "" if column.minimum is None else f"{column.minimum:g}"
    high = "" if column.maximum is None else f"{column.maximum:g}"
    return f"{low} to {high}" if low and high else f"from {low}" if low else f"up to {high}"


if __name__ == "__main__":
    PAGE.write_text(reference_page(), encoding="utf-8")
