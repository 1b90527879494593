"""The kinds of record as one mapping: the built-in ones and, asked for when first needed, those of plugins."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from typing import Any

from fibrebook.errors import PluginError
from fibrebook.records.kinds.declared import Kind


class Kinds(Mapping[str, Kind]):
    """Every kind of record by name: the built-in ones, then those of plugins.

    Plugins are asked when a kind that is not built in, or the whole list, is first wanted, and again where other
    plugins have come to the door. While they are being asked only the built-in kinds can be had, by their names: a
    plugin's module may so be imported before, after or while fibrebook is.
    """

    def __init__(self, built_in: Mapping[str, Kind]) -> None:
        self._built_in = built_in
        self._lock = threading.RLock()
        self._asking = False
        self._asked: tuple[Any, tuple[Any, ...]] | None = None
        self._added: dict[str, Kind] = {}

    def _of_plugins(self) -> dict[str, Kind]:
        with self._lock:
            if self._asking:
                raise PluginError(
                    "the kinds of record were asked for while plugins are still being loaded: ask for them in a "
                    "function that is called later, not when the plugin is imported or gives its record_kinds"
                )
            self._asking = True
            try:
                from fibrebook.plugins import manager
                from fibrebook.records.kinds.from_plugins import gathered_kinds

                door = manager()
                now = (door, tuple(door.hook.record_kinds.get_hookimpls()))
                if now != self._asked:
                    self._added, self._asked = gathered_kinds(self._built_in), now
            finally:
                self._asking = False
            return self._added

    def __getitem__(self, name: str) -> Kind:
        return self._built_in[name] if name in self._built_in else self._of_plugins()[name]

    def __contains__(self, name: object) -> bool:
        return name in self._built_in or name in self._of_plugins()

    def __iter__(self) -> Iterator[str]:
        return iter([*self._built_in, *self._of_plugins()])

    def __len__(self) -> int:
        return len(self._built_in) + len(self._of_plugins())
