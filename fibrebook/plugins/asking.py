"""Asking plugins what they give. Whatever fails is noted with its plugin and left out; the rest is given."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

from fibrebook.plugins.declared import (
    Analysis,
    Attention,
    Command,
    Declared,
    Page,
    PrintedSheet,
    SpokenName,
    VisitSection,
)
from fibrebook.plugins.door import manager

One = TypeVar("One", bound=Declared)


def gathered(hook: str) -> list[tuple[str, Any]]:
    """Return what each plugin gives at a hook, as (plugin, what it gives), in the order of registration.

    An iterable is returned as a list, a mapping as a dict. A plugin whose hook breaks is left out of it and noted.
    """
    found = []
    faults = manager().faults
    for implementation in getattr(manager().hook, hook).get_hookimpls():
        name = implementation.plugin_name
        try:
            given = implementation.function()
            if isinstance(given, str | bytes):
                raise TypeError(f"gives the text {given!r} where several things are wanted")
            given = dict(given) if isinstance(given, Mapping) else list(given or ())
        except Exception as error:  # whatever a stranger's function may raise
            faults.note(name, hook, f"its {hook} broke: {type(error).__name__}: {error}")
            continue
        faults.well(name, hook)
        found.append((name, given))
    return found


def ask_all() -> None:
    """Ask every plugin for all that it gives, so that what fails is known."""
    for hook in ("record_kinds", "extra_columns", "hard_rules", "advice_checks"):
        gathered(hook)
    for hook in ("reference_files", "layout_files"):
        files_by_plugin(hook)
    gathered_analyses()
    gathered_attention()
    gathered_commands()
    gathered_screens()
    gathered_sections()
    gathered_sheets()
    gathered_spoken_names()


def note(plugin: str, part: str, why: str = "") -> None:
    """Keep that a part of a plugin failed and was left out; without a reason, that it works again."""
    if why:
        manager().faults.note(plugin, part, why)
    else:
        manager().faults.well(plugin, part)


def gathered_files(hook: str) -> list[Path]:
    """Return the files that plugins give at a hook; what is no file is left out and noted."""
    return [path for _, path in files_by_plugin(hook)]


def files_by_plugin(hook: str) -> list[tuple[str, Path]]:
    """Return (plugin, file) of the files that plugins give at a hook; what is no file is left out and noted."""
    found = []
    for name, given in gathered(hook):
        for path in given:
            if _is_file(path):
                found.append((name, Path(path)))
            else:
                note(name, hook, f"its {hook} gives {path!r}, which is no file")
    return found


def _is_file(path: object) -> bool:
    try:
        return Path(path).is_file()  # type: ignore[arg-type]
    except (TypeError, ValueError, OSError):
        return False


def gathered_analyses() -> dict[str, Analysis]:
    """Return all analyses by name, ours first; what is none, or takes a name that is taken, is left out and noted."""
    return _by_name("analyses", Analysis, "analysis")


def gathered_attention() -> dict[str, Attention]:
    """Return all lines of what asks for attention by title, ours first; what is none is left out and noted."""
    return _by_name("attention", Attention, "line")


def gathered_commands() -> dict[str, Command]:
    """Return all commands by name, ours first; what is none, or takes a name that is taken, is left out and noted."""
    return _by_name("commands", Command, "command")


def gathered_screens() -> dict[str, Page]:
    """Return all screens of the front page by their address, ours first; what is none is left out and noted."""
    return _by_name("screens", Page, "screen")


def gathered_sections() -> list[tuple[str, VisitSection]]:
    """Return (plugin, section) of all sections of a visit, ours first; what is none, or is called so, is noted."""
    whose: dict[str, str] = {}
    for plugin, given in gathered("sections"):
        for one in given:
            whose.setdefault(getattr(one, "name", ""), plugin)
    return [(whose[name], one) for name, one in _by_name("sections", VisitSection, "section").items()]


def gathered_sheets() -> dict[str, PrintedSheet]:
    """Return all sheets by name, ours first; what is none, or takes a name that is taken, is left out and noted."""
    return _by_name("sheets", PrintedSheet, "sheet")


def gathered_spoken_names() -> list[tuple[str, SpokenName]]:
    """Return (plugin, declaration) of all ways of calling records, ours first; what is none is left out and noted."""
    return _several("spoken_names", SpokenName)


def _several(hook: str, sort: type[One]) -> list[tuple[str, One]]:
    found = []
    for plugin, given in gathered(hook):
        for one in given:
            if not isinstance(one, sort):
                note(plugin, hook, f"its {hook} gives {one!r}, which is no {sort.__name__}")
            elif not isinstance(one.name, str) or not (isinstance(one.run, str) or callable(one.run)):
                note(plugin, hook, f"what {hook} gives as {one.name!r} is {one.run!r}; it must be a function")
            else:
                found.append((plugin, one))
    return found


def _by_name(hook: str, sort: type[One], what: str) -> dict[str, One]:
    found: dict[str, One] = {}
    for plugin, given in gathered(hook):
        for one in _declared(given, sort):
            if not isinstance(one, sort):
                note(plugin, hook, f"its {hook} gives {one!r}, which is no {sort.__name__}")
            elif not isinstance(one.name, str) or not (isinstance(one.run, str) or callable(one.run)):
                note(plugin, hook, f"the {what} {one.name!r} is {one.run!r}; it must be a function")
            elif one.name in found:
                note(plugin, hook, f"there is {_a(what)} {one.name!r} already; give it another name")
            else:
                found[one.name] = one
    return found


def _declared(given: Any, sort: type[Any]) -> list[Any]:
    """What was once given as functions by name is taken too."""
    return [sort(name, run) for name, run in given.items()] if isinstance(given, dict) else list(given)


def _a(what: str) -> str:
    return f"{'an' if what[0] in 'aeiou' else 'a'} {what}"
