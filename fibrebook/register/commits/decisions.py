"""Conflicts as a file, side by side, in which somebody writes whose value stands."""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fibrebook.bounded_json import bounded_json
from fibrebook.errors import InputError, NotFoundError, place_in_words
from fibrebook.register.row_files.merge import Choices, Conflict
from fibrebook.regular_files import read_regular

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ("table", "key", "column", "base", "theirs", "mine", "decision")
MOST_BYTES = 50_000_000
SIDES = ("mine", "theirs")


def write_conflicts(conflicts: pd.DataFrame | Sequence[Conflict], path: str | os.PathLike[str]) -> Path:
    """Write conflicts as .csv: one row each, the last column to be filled with mine or theirs.

    Keys and values stand as JSON text, so that no spreadsheet takes one for a formula or a date.
    """
    target = Path(path).expanduser()
    rows = [
        (table, _text(list(key)), column or "", _text(base), _text(theirs), _text(mine), "")
        for table, key, column, base, theirs, mine in _as_rows(conflicts)
    ]
    with place_in_words(f"{target} cannot be written"):
        try:
            with target.open("x", newline="", encoding="utf-8-sig") as file:
                csv.writer(file).writerows([COLUMNS, *rows])
        except FileExistsError:
            raise InputError(f"{target} is there already; choose another name") from None
    return target


def _as_rows(conflicts: Any) -> list[tuple[Any, ...]]:
    if hasattr(conflicts, "itertuples"):
        return [tuple(r) for r in conflicts.itertuples(index=False)]
    return [(c.table, c.key, c.column, c.base, c.theirs, c.mine) for c in conflicts]


def _text(value: Any) -> str:
    value = value.isoformat() if hasattr(value, "isoformat") else value
    return json.dumps(value, ensure_ascii=False, default=str)


def read_decisions(path: str | os.PathLike[str]) -> Choices:
    """Return the decisions of such a file by (table, key, column); a row without one is left open.

    Raises
    ------
    NotFoundError : no such file
    InputError : something else than mine, theirs or a blank stands in the last column, or the file is another one
    """
    source = Path(path).expanduser()
    found: dict[tuple[str, tuple[Any, ...], str], str] = {}
    try:
        text = read_regular(source, MOST_BYTES).decode("utf-8-sig")
        delimiter = ";" if ";" in text.partition("\n")[0] else ","
        for number, row in enumerate(csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter), 2):
            side = (row["decision"] or "").strip().casefold()
            if side and side not in SIDES:
                raise InputError(f"{source.name}, row {number}: {side[:40]!r} is no decision; write mine or theirs")
            if side:
                found[row["table"], tuple(bounded_json(row["key"].encode())), row["column"] or ""] = side
    except FileNotFoundError:
        raise NotFoundError(f"there is no file {str(source)!r}; look at its name and folder") from None
    except (KeyError, TypeError, ValueError, AttributeError, csv.Error, OSError) as error:
        raise InputError(f"{source.name} is no list of conflicts as it was written out ({error})") from error
    return found


class OtherwiseTheirs(Mapping[Any, str]):
    """Decisions in which whatever is not decided is theirs."""

    def __init__(self, decided: Choices) -> None:
        self._decided = decided

    def __getitem__(self, key: Any) -> str:
        return self._decided.get(key, "theirs")

    def __iter__(self) -> Any:
        return iter(self._decided)

    def __len__(self) -> int:
        return len(self._decided)

    def __bool__(self) -> bool:
        return True
