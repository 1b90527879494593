"""Conflicts as a file, side by side, in which somebody writes whose value stands."""

from __future__ import annotations

import csv
import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fibrebook.errors import InputError, NotFoundError
from fibrebook.register.merge import Choices, Conflict

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ("table", "key", "column", "base", "theirs", "mine", "decision")
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
    try:
        with target.open("x", newline="", encoding="utf-8-sig") as file:
            csv.writer(file).writerows([COLUMNS, *rows])
    except FileExistsError:
        raise InputError(f"{target} is there already; choose another name") from None
    except OSError as error:
        raise InputError(f"{target} cannot be written: {error.strerror}") from error
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
        with source.open(newline="", encoding="utf-8-sig") as file:
            text = file.read(50_000_000)
        lines = list(csv.DictReader(text.splitlines(), delimiter=";" if ";" in text.split("\n")[0] else ","))
        for number, row in enumerate(lines, 2):
            side = (row["decision"] or "").strip().casefold()
            if side and side not in SIDES:
                raise InputError(f"{source.name}, row {number}: {side[:40]!r} is no decision; write mine or theirs")
            if side:
                found[row["table"], tuple(json.loads(row["key"])), row["column"] or ""] = side
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
