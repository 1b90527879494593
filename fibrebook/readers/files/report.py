"""What became of every row of a file that was brought in."""

from __future__ import annotations

import html
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

from fibrebook.errors import SHOWN, Problem

if TYPE_CHECKING:
    import pandas as pd

FATES = ("added", "changed", "unchanged", "removed", "refused", "skipped")
COLUMNS = ("sheet", "row", "table", "key", "fate", "column", "message")


@dataclass(frozen=True, slots=True)
class CellProblem(Problem):
    """A problem in a file; `row` is the row as the spreadsheet shows it (None: the sheet as a whole)."""

    sheet: str = ""
    letter: int | None = None  # number of the column in the sheet, from 1; None: the row as a whole


@dataclass(slots=True)
class ReportLine:
    """One row's fate; a row with several faults has a line for each."""

    sheet: str
    row: int | None  # as the spreadsheet shows it; None: the sheet as a whole
    table: str
    key: tuple[Any, ...]
    fate: str
    column: str = ""
    message: str = ""


class WorthALook(NamedTuple):
    """What the analyses say of what a file brings.

    advice : rows of `advice` that there would be none of without the file
    tests : what `acceptance` says of each loss test that it brings, and tests of other methods that failed
    words : both, a line each
    """

    advice: Sequence[dict[str, Any]] = ()
    tests: Sequence[dict[str, Any]] = ()
    words: Sequence[str] = ()


@dataclass
class Report:
    """Every row's fate, what is wrong, and the commit that came of it.

    Attributes
    ----------
    lines : fates of rows, in the order of the file
    problems : each single fault, with what is wrong only because of it; nothing is committed while there is any
    notes : what is worth a look and stopped nothing
    commit : number of the commit, None where none was made (dry run, refused, nothing changed)
    conflict : what is wrong is only that others changed the same since: it can be settled cell by cell
    base : the commit that the file was taken from, or the newest where it does not say
    ask : works out what `said` is; None where nothing was brought
    """

    source: str
    lines: list[ReportLine] = field(default_factory=list)
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()
    commit: int | None = None
    base: int | None = None
    dry_run: bool = False
    conflict: bool = False
    ask: Callable[[], WorthALook] | None = field(default=None, repr=False, compare=False)

    @cached_property
    def said(self) -> WorthALook:
        """What advice and acceptance say of what the file brings; worked out when it is first asked for."""
        return WorthALook() if self.ask is None or self.problems else self.ask()

    @property
    def ok(self) -> bool:
        """True where nothing stands in the way."""
        return not self.problems

    @property
    def rows(self) -> pd.DataFrame:
        """Return one row per line: sheet, row, table, key, fate, column, message."""
        import pandas as pd

        frame = pd.DataFrame({n: pd.Series([getattr(i, n) for i in self.lines], dtype=object) for n in COLUMNS})
        frame["row"] = frame["row"].astype("Int64")
        return frame

    def counts(self) -> dict[str, int]:
        """Return how many rows met each fate; a row with several lines counts once."""
        fates = {(line.sheet, line.row, line.table, line.key): line.fate for line in self.lines}
        found = Counter(fates.values())
        return {fate: found[fate] for fate in FATES if found[fate]}

    def summary(self) -> str:
        """Return one sentence."""
        told = ", ".join(f"{n} {fate}" for fate, n in self.counts().items()) or "no rows"
        if self.problems:
            end = f"{counted(self.problems)}, nothing brought in"
        elif self.dry_run:
            end = "nothing wrong; this was a dry run"
        elif self.commit is None:
            end = "nothing to change"
        else:
            end = f"commit {self.commit}"
        notes = f"; {len(self.notes)} note(s)" if self.notes else ""
        return f"{self.source}: {told}; {end}{notes}"

    def __str__(self) -> str:
        return "\n".join(
            [self.summary(), *_indented(self.problems), *_indented(self.notes), *_indented(self.said.words)]
        )

    def to_dict(self) -> dict[str, Any]:
        """Return everything as plain values that JSON can hold."""
        return {
            "source": self.source,
            "ok": self.ok,
            "commit": self.commit,
            "base": self.base,
            "dry_run": self.dry_run,
            "counts": self.counts(),
            "problems": [
                {
                    "where": p.where, "what": p.what, "remedy": p.remedy,
                    "sheet": getattr(p, "sheet", ""), "row": p.row, "table": p.table, "key": list(p.key),
                    "column": p.column, "follows": [str(f) for f in p.follows],
                }
                for p in self.problems
            ],
            "notes": list(self.notes),
            "advice": list(self.said.advice),
            "tests": list(self.said.tests),
            "rows": [{n: _plain(getattr(line, n)) for n in COLUMNS} for line in self.lines],
        }  # fmt: skip

    def _repr_html_(self) -> str:
        told = [line for line in self.lines if line.fate != "unchanged"]
        head = "".join(f"<th>{n}</th>" for n in COLUMNS)
        body = "".join(
            "<tr>" + "".join(f"<td>{html.escape(_shown(getattr(line, n)))}</td>" for n in COLUMNS) + "</tr>"
            for line in told[:HTML_ROWS]
        )
        more = f"<p>... and {len(told) - HTML_ROWS} more</p>" if len(told) > HTML_ROWS else ""
        texts = "".join(
            f"<li>{html.escape(str(p))}</li>"
            for p in [*self.problems[:SHOWN], *self.notes[:SHOWN], *self.said.words[:SHOWN]]
        )
        table = f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>" if told else ""
        return f"<div><p>{html.escape(self.summary())}</p><ul>{texts}</ul>{table}{more}</div>"


HTML_ROWS = 200


def counted(problems: Sequence[Problem]) -> str:
    """Return how many problems there are, and how many more follow from them."""
    following = sum(len(p.follows) for p in problems)
    return f"{len(problems)} problem(s)" + (f" and {following} that follow" if following else "")


def _indented(things: Iterable[object]) -> list[str]:
    texts = [f"  {t}" for t in things]
    return [*texts[:SHOWN], *([f"  ... and {len(texts) - SHOWN} more"] if len(texts) > SHOWN else [])]


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def _shown(value: Any) -> str:
    if isinstance(value, tuple):
        return " / ".join(str(v) for v in value if v not in (None, ""))
    return "" if value is None else str(value)
