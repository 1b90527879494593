"""Who is at the door: our own parts first, then the installed plugins that were asked for."""

from __future__ import annotations

import importlib
import os
import sys
from functools import cache
from types import ModuleType
from typing import Any

import pluggy

from fibrebook.plugins import not_well
from fibrebook.plugins.hooks import PROJECT

BUILT_IN = (
    "fibrebook.records.rules.door",
    "fibrebook.reference.door",
    "fibrebook.snapshot.door",
    "fibrebook.analyses.door",
    "fibrebook.cli.door",
    "fibrebook.screens.front_door.door",
    "fibrebook.screens.recording.door",
    "fibrebook.sheets.door",
)


class Door(pluggy.PluginManager):
    """The plugins, and what of them is not well."""

    def __init__(self) -> None:
        super().__init__(PROJECT)
        self.faults = not_well.Faults()

    def unregister(self, plugin: Any | None = None, name: str | None = None) -> Any | None:
        """Take a plugin away, and forget what of it was not well."""
        self.faults.forget(name or self.get_name(plugin) or "")
        return super().unregister(plugin, name)


@cache
def manager() -> Door:
    """Return the one door. A plugin that cannot be loaded, or has a hook that there is not, is noted and left out."""
    found = Door()
    found.add_hookspecs(importlib.import_module("fibrebook.plugins.hooks"))
    for name in BUILT_IN:
        found.register(importlib.import_module(name), name=name)
    _load_installed(found, os.environ.get("FIBREBOOK_PLUGINS"))
    _leave_out_misspelt(found)
    return found


def _load_installed(found: Door, wanted: str | None) -> None:
    from importlib.metadata import entry_points

    names = None if wanted is None else {n.strip() for n in wanted.split(",") if n.strip()}
    try:
        entries = list(entry_points(group=PROJECT))
    except (OSError, ValueError) as error:  # an unreadable or damaged list beside some installed package
        why = (
            f"the list of what is installed beside fibrebook cannot be read: {error}. Look to the disk, or mend the "
            "installation: it is not known which plugins there are, so nothing is saved by half of them"
        )
        found.faults.note("", not_well.WHOLE, why)
        return
    for entry in entries:
        if names is None or entry.name in names:
            try:
                found.register(entry.load(), name=entry.name)
            except Exception as error:  # whatever a stranger's module may raise
                found.faults.note(entry.name, not_well.WHOLE, f"({entry.value}) could not be loaded: {error}")


def still_imported() -> bool:
    """Tell whether the module of a plugin is being imported just now, so that its hooks are not there yet."""
    half = {name for name, module in list(sys.modules.items()) if _half_imported(module)}
    if not half:
        return False
    from importlib.metadata import entry_points

    return any(entry.value.partition(":")[0] in half for entry in entry_points(group=PROJECT))


def _half_imported(module: ModuleType) -> bool:
    return bool(getattr(getattr(module, "__spec__", None), "_initializing", False))


def _leave_out_misspelt(found: Door) -> None:
    """A misspelt hook is a fault, not silence: what it would have given is not known."""
    for _ in found.get_plugins():
        try:
            found.check_pending()
            return
        except pluggy.PluginValidationError as error:
            name = found.get_name(error.plugin) or str(error.plugin)
            found.unregister(error.plugin)
            found.faults.note(name, not_well.WHOLE, f"implements a hook that fibrebook does not have: {error}")


def installed() -> list[tuple[str, str]]:
    """Return (name, where from) of every plugin at the door, built-ins included."""
    return [(name, _whence(plugin)) for name, plugin in manager().list_name_plugin()]


def _whence(plugin: object) -> str:
    return plugin.__name__ if isinstance(plugin, ModuleType) else type(plugin).__name__


def faults() -> list[not_well.Fault]:
    """Return what of the plugins is not well, as far as it was met."""
    return manager().faults.found()


def refuse_half_a_list() -> None:
    """Raise PluginError where it is not known what a plugin would have to say to a save."""
    not_well.refuse(faults())


def in_words() -> str:
    """Return what a person is told of plugins that are not well; "" where all are, or none was asked yet."""
    return not_well.in_words(faults()) if manager.cache_info().currsize else ""
