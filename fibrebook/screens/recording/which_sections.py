"""Which sections a visit has: ours in the order of the work, then those of plugins. What of them breaks is left out."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import ipywidgets as w

from fibrebook.errors import FibrebookError, PluginError
from fibrebook.plugins import BUILT_IN, VisitSection, gathered_sections, note
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.screens.frame.section import Event, Host, Made, Section, Shown, Standing
from fibrebook.screens.recording.visit_draft import Day, are_rows

OnScreen = Shown[Any, Day]


class Contained(Section[Any, Day]):
    """A plugin's section. What it raises in words is told as ours is; where it breaks otherwise, it is noted.

    Its state is then as it was before. What it gives is looked at before a visit holds it: rows are rows, a draft is
    one that can be kept. `begin` and `build` are not contained: a section that cannot begin is none.
    """

    def __init__(self, inner: Section[Any, Day], plugin: str) -> None:
        self.inner, self.plugin = inner, plugin
        self.title, self.name = inner.title, inner.name  # type: ignore[misc]

    def _asked(self, member: str, otherwise: Any, *given: Any) -> Any:
        try:
            return getattr(self.inner, member)(*given)
        except (FibrebookError, OSError):
            raise
        except Exception as error:  # whatever a stranger's function may raise
            self._broke(member, f"{type(error).__name__}: {error}")
            return otherwise

    def _broke(self, member: str, why: str) -> None:
        note(self.plugin, f"section {self.name}", f"{member} of the section {self.title!r} broke: {why}")

    def begin(self) -> Any:
        """As it begins."""
        return self.inner.begin()

    def after(self, state: Any, event: Event, seen: Day) -> Any:
        """As it makes it; else the state as it was."""
        return self._asked("after", state, state, event, seen)

    def follow(self, state: Any, seen: Day) -> Any:
        """As it makes it; else the state as it was."""
        return self._asked("follow", state, state, seen)

    def made(self, state: Any, seen: Day, of: str = "") -> Made[Any]:
        """As it makes it, where that can be kept. Raises PluginError where it cannot."""
        nothing = Made(state, refused=PluginError(f"nothing was added: the section {self.title!r} is not well"))
        made = self._asked("made", nothing, state, seen, of)
        if not isinstance(made, Made) or not isinstance(made.refused, FibrebookError | None):
            self._broke("made", f"it gives {made!r}, which is nothing that can be added")
            return nothing
        return made if self._can_be_kept("made", made.put, made.source, made.title, made.said) else nothing

    def standing(self, state: Any) -> Standing | None:
        """As it stands, where that can be kept."""
        found = self._asked("standing", None, state)
        if found is not None and not isinstance(found, Standing):
            self._broke("standing", f"it gives {found!r}, which is no Standing")
            return None
        if found is None or not self._can_be_kept("standing", found.put, found.source, found.title):
            return None
        return found

    def _can_be_kept(self, member: str, put: Any, *words: Any) -> bool:
        sound = all(isinstance(text, str) for text in words) and isinstance(put, Mapping)
        sound = sound and all(name in KINDS and are_rows(KINDS[name], list(rows)) for name, rows in put.items())
        if not sound:
            self._broke(member, f"it gives {put!r}, which are no rows that can be kept")
        return sound

    def head_changed(self, state: Any, seen: Day) -> Any:
        """As it makes it; else the state as it was."""
        return self._asked("head_changed", state, state, seen)

    def blocks_saving(self, state: Any) -> tuple[str, ...]:
        """What it says, as text; where it breaks, nothing is hindered: the rows that stand are judged by the save."""
        return tuple(str(words) for words in self._asked("blocks_saving", (), state))

    def begun(self, state: Any) -> bool:
        """What it says; nothing where it breaks."""
        return bool(self._asked("begun", False, state))

    def take_out(self, state: Any, source: str) -> Any:
        """As it makes it; else the state as it was."""
        return self._asked("take_out", state, state, source)

    def forget(self, state: Any) -> Any:
        """As it makes it; else as it begins."""
        return self._asked("forget", self.inner.begin(), state)

    def to_json(self, state: Any) -> dict[str, Any]:
        """As it is kept, where that can be written; else nothing of it is in the draft."""
        kept = self._asked("to_json", {}, state)
        try:
            return dict(json.loads(json.dumps(kept)))
        except (TypeError, ValueError) as error:
            self._broke("to_json", f"no draft can hold {kept!r}: {error}")
            return {}

    def from_json(self, kept: Mapping[str, Any]) -> Any:
        """As it was kept. Raises what it raises: the screen says that it is to be typed again."""
        return self.inner.from_json(kept)

    def build(self, page: Shown[Any, Day]) -> Sequence[w.Widget]:
        """Its widgets, once."""
        return self.inner.build(page)

    def show(self, state: Any, seen: Day) -> None:
        """Its widgets show the state; where it breaks, they stay as they are."""
        self._asked("show", None, state, seen)


def sections(host: Host, seen: Callable[[], Day]) -> list[OnScreen]:
    """Return the sections of a visit, shown. A plugin's that cannot be made is named and left out."""
    found: list[OnScreen] = []
    for plugin, declared in gathered_sections():
        if plugin in BUILT_IN:
            ours = declared.function()
            found += [] if ours is None else [Shown(ours, host, seen)]
            continue
        try:
            theirs = _made(declared, found)
            shown = [] if theirs is None else [Shown(Contained(theirs, plugin), host, seen)]
        except Exception as error:  # whatever a stranger's code may raise
            note(
                plugin,
                f"section {declared.name}",
                f"the section {declared.name!r} broke: {type(error).__name__}: {error}",
            )
            continue
        note(plugin, f"section {declared.name}")
        found += shown
    return found


def _made(declared: VisitSection, before: list[OnScreen]) -> Section[Any, Day] | None:
    made = declared.function()
    if made is None:
        return None
    if not isinstance(made, Section):
        raise TypeError(f"it is a {type(made).__name__}, which is no Section")
    if not isinstance(made.title, str) or not made.title.strip():
        raise TypeError("it has no title")
    if made.name != declared.name or not re.fullmatch("[a-z][a-z0-9_-]*", made.name):
        raise ValueError(f"it is called {made.name!r}: it must be called as it was declared, in small letters")
    if made.title in [s.title for s in before]:
        raise ValueError(f"there is a section {made.title!r} already; give it another title")
    return made
