"""Everything that can go wrong by a user's hand, as one family.

FibrebookError
 ├─ InputError          rows or values that do not fit the records (problems)
 ├─ RuleError           a hard rule would be broken; nothing was committed (problems)
 ├─ BringInError        a file could not be brought in; nothing was committed (report)
 ├─ LayoutError         a layout file is wrong
 ├─ NotFoundError       no such register, site, cable, port, commit ...
 │   └─ AmbiguousError  several things are called so (meant)
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

import contextlib
from collections.abc import Iterator, Sequence
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
    rests_on: tuple[tuple[str, tuple[Any, ...]], ...] = ()  # records without which it would not be: table and key
    meant: tuple[str, tuple[Any, ...]] | None = None  # the record whose label is nearest to the one that is not there
    follows: tuple[Problem, ...] = ()  # what is wrong only because of this
    breach: str = ""  # what is broken, the records aside that have a part in it; blank = as `what` says

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        text = f"{text} → {self.remedy}" if self.remedy else text
        more = len(self.follows)
        if not more:
            return text
        named = ", ".join(dict.fromkeys(p.where for p in self.follows[:NAMED] if p.where))
        rest = ", ..." if more > NAMED else ""
        return f"{text} ({more} more {'follows' if more == 1 else 'follow'} from it: {named}{rest})"


class FibrebookError(Exception):
    """Base of every error that a user can cause. `problems` lists each single fault."""

    def __init__(self, message: str, problems: Sequence[Problem] = ()) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        self.message = message
        shown = [f"  {p}" for p in self.problems[:SHOWN]]
        if len(self.problems) > SHOWN:
            shown.append(f"  ... and {len(self.problems) - SHOWN} more")
        super().__init__("\n".join([message, *shown]))


def told_by_system(error: OSError) -> str:
    """Say in words what the operating system refused, and of which file."""
    why = error.strerror or str(error) or type(error).__name__
    return f"{error.filename}: {why}" if error.filename else why


NAMED = 3  # of what follows from a problem, named beside it
SHOWN = 20  # a screenful; all of them are on the error's `problems`


class InputError(FibrebookError):
    """Rows or values that do not fit the declaration of their kind of record."""


@contextlib.contextmanager
def place_in_words(doing: str) -> Iterator[None]:
    """Turn what the system refuses of a file or folder into an InputError: what was being done, and why it cannot be.

    Parameters
    ----------
    doing : what cannot be done, as the beginning of a sentence: "the workbook cannot be written"
    """
    try:
        yield
    except OSError as error:
        raise InputError(
            f"{doing}: {told_by_system(error)}; look to the disk and the name, or choose another"
        ) from error
    except ValueError as error:
        if "null byte" not in str(error) and "null character" not in str(error):
            raise
        raise InputError(f"{doing}: its name holds a character that no file name may have") from error


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


class AmbiguousError(NotFoundError):
    """Several things are called so, and it was not said which; `meant` names them, each as `trace` takes it."""

    def __init__(self, message: str, meant: Sequence[tuple[str, ...]] = ()) -> None:
        super().__init__(message)
        self.meant = tuple(meant)


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
