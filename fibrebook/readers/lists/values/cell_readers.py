"""Who reads a cell of a column of some kind: our readers and those of plugins, by one door, one after another."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from fibrebook.plugins import BUILT_IN, gathered_cell_readers, note


@dataclass
class OneCell:
    """What a cell says: single values and values that may be several by role, notes, a loss."""

    single: dict[str, Any] = field(default_factory=dict)
    several: dict[str, tuple[Any, ...]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    loss: float | None = None
    left_out: bool = False


@dataclass
class Unread:
    """Why a cell cannot be read, and what it may be."""

    what: str
    proposals: tuple[str, ...] = ()


Read = Callable[[str, str], OneCell | Unread]  # a cell's text, and its column's role


class CellReaders:
    """The readers of one list, asked for when the first cell is read; what breaks of a plugin is noted and left out."""

    @cached_property
    def _by_role(self) -> dict[str, list[Read]]:
        found: dict[str, list[Read]] = {}
        for plugin, declared in gathered_cell_readers():
            part = f"cell_readers of {declared.name}"
            try:
                read = declared.function
            except Exception as error:  # whatever a stranger's module may raise
                note(plugin, part, f"its cell_readers of {declared.name} broke: {type(error).__name__}: {error}")
                continue
            ours = plugin in BUILT_IN
            found.setdefault(declared.name, []).append(read if ours else _guarded(plugin, part, read))
        return found

    def kinds(self) -> list[str]:
        """Return the kinds of column that somebody reads."""
        return list(self._by_role)

    def read(self, kind: str, text: str, role: str) -> OneCell | Unread | None:
        """Return what the first reader that can read it makes of a cell; the first's refusal where none can.

        None where nobody reads that kind of column.
        """
        refused: OneCell | Unread | None = None
        for read in self._by_role.get(kind, ()):
            found = read(text, role)
            if isinstance(found, OneCell):
                return found
            refused = refused or found
        return refused


def _guarded(plugin: str, part: str, read: Callable[[str, str], Any]) -> Read:
    def guarded(text: str, role: str) -> OneCell | Unread:
        try:
            said = read(text, role)
            found = Unread("is read by no plugin") if said is None else _one_cell(said)
        except Exception as error:  # whatever a stranger's function may raise
            note(plugin, part, f"its {part} broke at {text!r}: {type(error).__name__}: {error}")
            return Unread("is read by no plugin")
        return found

    return guarded


def _one_cell(said: object) -> OneCell:
    """Return what a plugin's reader gave as what a cell says."""
    if not isinstance(said, Mapping) or not said or not all(isinstance(role, str) for role in said):
        raise TypeError(f"it gives {said!r} where values by role are wanted")
    values = dict(said)
    loss, notes = values.pop("loss_db", None), values.pop("notes", ())
    if loss is not None and (isinstance(loss, bool) or not isinstance(loss, int | float)):
        raise TypeError(f"it gives the loss {loss!r}, which is no number")
    if isinstance(notes, str) or not all(isinstance(n, str) for n in notes):
        raise TypeError(f"it gives the notes {notes!r}, which are no list of texts")
    several = {role: value for role, value in values.items() if isinstance(value, tuple)}
    single = {role: value for role, value in values.items() if role not in several}
    if wrong := [
        v for value in (single.values(), *several.values()) for v in value if not isinstance(v, str | int | float)
    ]:
        raise TypeError(f"it gives {wrong[0]!r}, which is no text and no number")
    return OneCell(single, several, list(notes), None if loss is None else float(loss))
