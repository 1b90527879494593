"""The kinds of record as one mapping: the built-in ones and, asked for when first needed, those of plugins."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from fibrebook.errors import PluginError
from fibrebook.records.kinds.declared import Column, Kind

ASKED_TOO_SOON = (
    "the kinds of record were asked for while plugins are still being loaded: ask for them in a function that is "
    "called later, not when the plugin is imported or gives its record_kinds or extra_columns"
)


class Kinds(Mapping[str, Kind]):
    """Every kind of record by name: the built-in ones, then those of plugins, each with the columns that plugins add.

    Plugins are asked when a kind is first wanted, and again where other plugins have come to the door. While they are
    being asked only the built-in kinds can be had, by their names and without added columns: a plugin's module may so
    be imported before, after or while fibrebook is.
    """

    def __init__(self, built_in: Mapping[str, Kind]) -> None:
        self._built_in = built_in
        self._lock = threading.RLock()
        self._asking = False
        self._asked: tuple[Any, ...] | None = None
        self._known: dict[str, Kind] = {}
        self._added: dict[str, tuple[Column, ...]] = {}

    def _all(self) -> dict[str, Kind]:
        with self._lock:
            if self._too_soon():
                raise PluginError(ASKED_TOO_SOON)
            self._asking = True
            try:
                from fibrebook.plugins import manager
                from fibrebook.records.kinds.extra_columns import gathered_columns
                from fibrebook.records.kinds.from_plugins import gathered_kinds

                door = manager()
                hooks = (door.hook.record_kinds, door.hook.extra_columns)
                now = (door, *(tuple(hook.get_hookimpls()) for hook in hooks))
                if now != self._asked:
                    bare = {**self._built_in, **gathered_kinds(self._built_in)}
                    self._added = gathered_columns(bare)
                    self._known = {n: _with(kind, self._added.get(n, ())) for n, kind in bare.items()}
                    self._asked = now
            finally:
                self._asking = False
            return self._known

    def _too_soon(self) -> bool:
        from fibrebook.plugins.door import still_imported

        return self._asking or (self._asked is None and still_imported())

    def added(self, name: str) -> tuple[Column, ...]:
        """Return the columns that plugins add to a kind."""
        self._all()
        return self._added.get(name, ())

    def at_hand(self, name: str) -> Kind:
        """Return a kind as far as it is known: a built-in one without added columns while the door was not opened."""
        from fibrebook.plugins import manager

        if name in self._built_in and not (
            manager.cache_info().currsize and manager().hook.extra_columns.get_hookimpls()
        ):
            return self._built_in[name]
        return self[name]

    def __getitem__(self, name: str) -> Kind:
        with self._lock:
            return self._built_in[name] if name in self._built_in and self._too_soon() else self._all()[name]

    def __contains__(self, name: object) -> bool:
        return name in self._built_in or name in self._all()

    def __iter__(self) -> Iterator[str]:
        return iter([*self._all()])

    def __len__(self) -> int:
        return len(self._all())


def _with(kind: Kind, columns: tuple[Column, ...]) -> Kind:
    return replace(kind, columns=(*kind.columns, *columns)) if columns else kind
