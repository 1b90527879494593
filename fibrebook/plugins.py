"""The plugin door: what a firm may add, as hooks that our own parts use too.

A plugin is a module or object with functions marked ``@fibrebook.plugins.hookimpl`` and an entry point in the
group ``fibrebook``. The built-in parts named in BUILT_IN come in by the same door, and first.
The environment variable FIBREBOOK_PLUGINS names exactly which entry points to load (comma-separated; empty: none).
"""

from __future__ import annotations

import importlib
import os
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pluggy

from fibrebook.errors import PluginError

PROJECT = "fibrebook"
hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)

BUILT_IN = (
    "fibrebook.reference.built_in",
    "fibrebook.analyses.built_in",
)


@hookspec
def reference_files() -> Iterable[Path]:  # type: ignore[empty-body]
    """Give CSV files of reference rows, named after the table they extend (``colour_codes.csv``, ...)."""


@hookspec
def layout_files() -> Iterable[Path]:  # type: ignore[empty-body]
    """Give TOML layouts that tell how a firm's own spreadsheet is to be read."""


@hookspec
def advice_checks() -> Iterable[Callable[..., Any]]:  # type: ignore[empty-body]
    """Give advice checks: each takes the assembled plant and yields what is worth a second look."""


@hookspec
def analyses() -> Mapping[str, Callable[..., Any]]:  # type: ignore[empty-body]
    """Give analyses by name: each takes a register (and keywords) and returns a DataFrame."""


@hookspec
def record_kinds() -> Iterable[Any]:  # type: ignore[empty-body]
    """Give kinds of record (`fibrebook.records.Kind`): tables of the register, with sheet, form, checks and history."""


@cache
def manager() -> pluggy.PluginManager:
    """Return the one plugin manager: built-ins first, then the installed plugins that were asked for."""
    found = pluggy.PluginManager(PROJECT)
    found.add_hookspecs(importlib.import_module(__name__))
    for name in BUILT_IN:
        found.register(importlib.import_module(name), name=name)
    _load_installed(found, os.environ.get("FIBREBOOK_PLUGINS"))
    try:
        found.check_pending()  # a misspelt hook is an error, not silence
    except pluggy.PluginValidationError as error:
        raise PluginError(f"plugin {error.plugin!r} implements a hook that fibrebook does not have: {error}") from error
    return found


def _load_installed(found: pluggy.PluginManager, wanted: str | None) -> None:
    from importlib.metadata import entry_points

    names = None if wanted is None else {n.strip() for n in wanted.split(",") if n.strip()}
    for entry in entry_points(group=PROJECT):
        if names is not None and entry.name not in names:
            continue
        try:
            found.register(entry.load(), name=entry.name)
        except Exception as error:
            raise PluginError(
                f"plugin {entry.name!r} ({entry.value}) could not be loaded: {error}. "
                f"Mend or uninstall it, or set FIBREBOOK_PLUGINS to the plugins that you want."
            ) from error


def gathered(hook: str) -> list[tuple[str, Any]]:
    """Return what each plugin gives at a hook, as (plugin, what it gives), in the order of registration.

    An iterable is returned as a list, a mapping as a dict. Raises PluginError that names a plugin whose hook breaks.
    """
    found = []
    for implementation in getattr(manager().hook, hook).get_hookimpls():
        name = implementation.plugin_name
        try:
            given = implementation.function()
            if isinstance(given, str | bytes):
                raise TypeError(f"gives the text {given!r} where several things are wanted")
            if given is not None:
                found.append((name, dict(given) if isinstance(given, Mapping) else list(given)))
        except Exception as error:
            raise PluginError(f"plugin {name!r}: its {hook} broke: {type(error).__name__}: {error}") from error
    return found


def gathered_files(hook: str) -> list[Path]:
    """Return the files that plugins give at a hook. Raises PluginError that names the plugin and what is no file."""
    found = []
    for name, given in gathered(hook):
        for path in given:
            try:
                there = Path(path).is_file()
            except (TypeError, ValueError):
                there = False
            if not there:
                raise PluginError(f"plugin {name!r}: its {hook} gives {path!r}, which is no file")
            found.append(Path(path))
    return found


def gathered_analyses() -> dict[str, Callable[..., Any]]:
    """Return all analyses by name, built-in and plugins'.

    Raises
    ------
    PluginError : names the plugin that gives no mapping, a name that is no text, what cannot be called, or a name taken
    """
    found: dict[str, Callable[..., Any]] = {}
    for plugin, given in gathered("analyses"):
        if not isinstance(given, dict):
            raise PluginError(f"plugin {plugin!r}: its analyses give no mapping of names to functions")
        for name, answer in given.items():
            if not isinstance(name, str) or not callable(answer):
                raise PluginError(f"plugin {plugin!r}: the analysis {name!r} is {answer!r}; it must be a function")
            if name in found:
                raise PluginError(f"plugin {plugin!r}: there is an analysis {name!r} already; give it another name")
            found[name] = answer
    return found


def installed() -> list[tuple[str, str]]:
    """Return (name, where from) of every plugin at the door, built-ins included."""
    return [(name, getattr(plugin, "__name__", type(plugin).__name__)) for name, plugin in manager().list_name_plugin()]
