"""Everything that can go wrong by a user's hand, as one family.

FibrebookError
 ├─ InputError          rows or values that do not fit the records (problems)
 ├─ RuleError           a hard rule would be broken; nothing was committed (problems)
 ├─ BringInError        a file could not be brought in; nothing was committed (report)
 ├─ LayoutError         a layout file is wrong
 ├─ NotFoundError       no such register, site, cable, port, commit ...
 ├─ ConflictError       somebody else changed the same cells; the edit is kept (conflicts, pending)
 ├─ ReadOnlyError       the register was opened read-only
 ├─ NotCommittedError   the commit did not land; it is safe to try again
 ├─ UnknownOutcomeError it is not known whether the commit landed; look before trying again
 ├─ DamagedError        a file of the register is missing or not what was written (problems)
 ├─ FormatError         the register was written by a newer fibrebook
 ├─ ValueSourceError    a reference value is missing or impossible
 └─ PluginError         a plugin misbehaves; names it
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong: where it stands, what it is, and what to do about it."""

    where: str
    what: str
    remedy: str = ""
    table: str = ""
    key: tuple[Any, ...] = ()
    column: str = ""
    row: int | None = None  # position in the rows as given, from 0
    also: tuple[tuple[str, tuple[Any, ...]], ...] = ()  # other records that have a part in it: table and key

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        return f"{text} → {self.remedy}" if self.remedy else text


class FibrebookError(Exception):
    """Base of every error that a user can cause. `problems` lists each single fault."""

    def __init__(self, message: str, problems: Sequence[Problem] = ()) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        self.message = message
        shown = [f"  {p}" for p in self.problems[:SHOWN]]
        if len(self.problems) > SHOWN:
            shown.append(f"  ... and {len(self.problems) - SHOWN} more")
        super().__init__("\n".join([message, *shown]))


SHOWN = 20  # a screenful; all of them are on the error's `problems`


class InputError(FibrebookError):
    """Rows or values that do not fit the declaration of their kind of record."""


class RuleError(FibrebookError):
    """A hard rule would be broken by a commit; the whole commit was refused."""


class BringInError(FibrebookError):
    """A file could not be brought in; `report` tells every row's fate and nothing was committed."""

    def __init__(self, message: str, problems: Sequence[Problem] = (), report: Any = None) -> None:
        super().__init__(message, problems)
        self.report = report


class LayoutError(FibrebookError):
    """A layout file (how to read a firm's own spreadsheet) is wrong."""


class NotFoundError(FibrebookError):
    """What was asked for does not exist: a register, site, cable, port, commit."""


class ConflictError(FibrebookError):
    """The same cell was changed by somebody else; the edit is kept as a pending file."""

    def __init__(
        self, message: str, problems: Sequence[Problem] = (), conflicts: Any = None, pending: str | None = None
    ) -> None:
        super().__init__(message, problems)
        self.conflicts = conflicts
        self.pending = pending


class ReadOnlyError(FibrebookError):
    """The register was opened read-only (at an earlier commit, or by wish)."""


class NotCommittedError(FibrebookError):
    """The commit surely did not land; trying again is safe."""


class UnknownOutcomeError(FibrebookError):
    """It is not known whether the commit landed; look at the history before trying again."""


class DamagedError(FibrebookError):
    """A file of the register is missing or is not what was written."""


class FormatError(FibrebookError):
    """The register's format is newer than this fibrebook understands."""


class ValueSourceError(FibrebookError):
    """A reference value is missing, impossible or off the table."""


class PluginError(FibrebookError):
    """A plugin misbehaves; the message names it."""
