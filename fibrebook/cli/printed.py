"""What commands share: finding the register, JSON, errors, and tables that fit a terminal of 80 columns."""

from __future__ import annotations

import datetime as dt
import functools
import json
import math
import os
import sys
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fibrebook.errors import FibrebookError, NotFoundError
from fibrebook.words.printable import acts, visible

if TYPE_CHECKING:
    from fibrebook.register import Register

WIDTH = 80
ATTENTION = 3  # exit code: done, but something wants attention
BY = click.option("--by", required=True, metavar="INITIALS", help="Who does this; kept with the commit.")
WHY = click.option("--why", required=True, metavar="TEXT", help="What for; kept with the commit.")
NO_PERSONAL = click.option("--no-personal", is_flag=True, help="Leave contacts, addresses and access notes out.")
CAUTION = "Never look into a fibre or port: use a meter or card."


def with_register(function: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command --register and --json, and pass it the path as `where` and the wish as `as_json`."""

    @click.option("-r", "--register", metavar="WHERE", help="Folder or bucket address of the register.")
    @click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
    @click.pass_context
    @functools.wraps(function)
    def wrapped(ctx: click.Context, /, *, register: str | None, as_json: bool, **rest: Any) -> Any:
        return function(where=register or ctx.obj, as_json=as_json, **rest)

    return wrapped


def open_register(where: str | None, read_only: bool = True) -> Register:
    """Open the register that is meant: as given, else $FIBREBOOK_REGISTER, else ./register."""
    from fibrebook.register import open as open_at

    return open_at(place_of(where), read_only=read_only)


def place_of(where: str | None) -> str:
    """Return the place that is meant: as given, else $FIBREBOOK_REGISTER, else ./register."""
    where = where or os.environ.get("FIBREBOOK_REGISTER") or ("register" if Path("register").is_dir() else None)
    if not where:
        raise NotFoundError(
            "which register? Give it with --register, or set FIBREBOOK_REGISTER, or work in a folder that holds "
            "'register'. To make one: fibrebook new FOLDER; to try: fibrebook demo FOLDER"
        )
    return where


def site_of(reg: Register, text: str | None) -> str | None:
    """Find the site that is meant: its label, in any case, or an unambiguous beginning of it."""
    if text is None:
        return None
    known = reg.sites()
    if text in known:
        return text
    folded = [s for s in known if s.casefold() == text.casefold()] or [
        s for s in known if s.casefold().startswith(text.casefold())
    ]
    if len(folded) == 1:
        return folded[0]
    if folded:
        raise NotFoundError(f"{text!r} may be {', '.join(folded[:8])}: write more of it")
    from fibrebook.snapshot.snapshot import check_site

    check_site(reg, text)
    return text


def plain(value: Any) -> Any:
    """Make a value fit for JSON: NaN is null, dates are ISO text, tuples are lists."""
    if isinstance(value, float):
        return None if math.isnan(value) or math.isinf(value) else value
    if isinstance(value, dict):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(v) for v in value]
    if isinstance(value, (dt.date, dt.datetime)):
        return value.isoformat()
    if value is None or isinstance(value, (str, int, bool)):
        return value
    return plain(value.item()) if hasattr(value, "item") else str(value)


def say_json(value: Any) -> None:
    """Print a value as JSON; what would act on a terminal is escaped, and reads back as it was."""
    text = json.dumps(plain(value), ensure_ascii=False, indent=1)
    click.echo(text if visible(text) == text else "".join(_escaped(c) if acts(c) else c for c in text))


def _escaped(character: str) -> str:
    return json.dumps(character)[1:-1]


def say(as_json: bool, content: Any, text: str) -> None:
    """Print the content as JSON, or the text."""
    if as_json:
        say_json(content)
    else:
        click.echo(text)


def frame_rows(frame: Any) -> list[dict[str, Any]]:
    """Rows of a DataFrame as dicts, missing values as None."""
    return [
        {k: None if v is None or v != v else v for k, v in row.items()}  # NaN and NaT differ from themselves
        for row in frame.astype(object).to_dict("records")
    ]


def report_error(error: FibrebookError, as_json: bool) -> None:
    """Print an error in words on stderr, or as JSON on stdout where JSON was asked for."""
    if as_json:
        problems = [
            {"where": p.where, "what": p.what, "remedy": p.remedy, "table": p.table, "column": p.column}
            for p in error.problems
        ]
        say_json({"error": type(error).__name__, "message": error.message, "problems": problems})
    else:
        click.echo(f"fibrebook: {error}", err=True)


@dataclass(frozen=True)
class Col:
    """One column of a text table: heading (lines joined by a line break), values as text, numbers to the right."""

    heading: str
    values: Sequence[str]
    right: bool = False

    def __post_init__(self) -> None:
        """Have nothing in a cell that acts on the terminal."""
        object.__setattr__(self, "values", [visible(str(v)) for v in self.values])

    @property
    def natural(self) -> int:
        """Width that nothing has to be wrapped at."""
        return max(len(line) for text in (self.heading, *self.values) for line in text.split("\n") or [""])


def text_table(columns: Sequence[Col], width: int = WIDTH, gap: int = 2, indent: int = 0) -> str:
    """Lay columns out in plain text of a width; text columns are wrapped where there is not enough room."""
    widths = [c.natural for c in columns]
    room = width - indent - gap * (len(columns) - 1)
    while sum(widths) > room:
        widest = max((i for i, c in enumerate(columns) if not c.right), key=lambda i: widths[i], default=None)
        if widest is None or widths[widest] <= 6:
            break
        widths[widest] -= 1
    lines = _row([c.heading for c in columns], columns, widths, gap, indent)
    rule = " " * indent + (" " * gap).join("-" * w for w in widths)
    body: list[str] = []
    for cells in zip(*(c.values for c in columns), strict=True):
        body += _row(cells, columns, widths, gap, indent)
    return "\n".join([*lines, rule, *body])


def rows_table(rows: Sequence[Mapping[str, Any]], names: Sequence[str], gap: int = 2) -> str:
    """Lay some columns of a register's own rows out in plain text: keys, times and cells of any type."""
    return text_table([Col(n.replace("_utc", " (UTC)"), [_cell(r[n]) for r in rows]) for n in names], gap=gap)


def _cell(value: Any) -> str:
    if isinstance(value, tuple):
        return "/".join(str(v) for v in value if v != "")
    if hasattr(value, "strftime"):
        return str(value.strftime("%Y-%m-%d %H:%M"))
    return "" if value is None else str(value)


def _row(cells: Iterable[str], columns: Sequence[Col], widths: Sequence[int], gap: int, indent: int) -> list[str]:
    parts = [_wrapped(cell, width) for cell, width in zip(cells, widths, strict=True)]
    height = max(len(p) for p in parts)
    out = []
    for i in range(height):
        texts = [p[i] if i < len(p) else "" for p in parts]
        placed = [t.rjust(w) if c.right else t.ljust(w) for t, w, c in zip(texts, widths, columns, strict=True)]
        out.append((" " * indent + (" " * gap).join(placed)).rstrip())
    return out


def _wrapped(text: str, width: int) -> list[str]:
    lines: list[str] = []
    for line in str(text).split("\n"):
        lines += textwrap.wrap(line, max(width, 1), break_long_words=True) or [""]
    return lines


def number(value: Any, digits: int = 2) -> str:
    """A number as text; nothing where it is not known."""
    return "" if value is None or value != value else f"{value:.{digits}f}"


def needs_attention() -> None:
    """End with the exit code that says: done, but look."""
    sys.stdout.flush()
    raise click.exceptions.Exit(ATTENTION)
