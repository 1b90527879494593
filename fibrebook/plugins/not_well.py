"""Plugins that are not well: what failed is kept beside the door and told wherever a person looks.

What reads goes on without the part that failed. A save is refused as long as it is not known what a plugin would have
had to say to it: nothing is saved by half a list.
"""

from __future__ import annotations

from dataclasses import dataclass

from fibrebook.errors import PluginError

MEND = "Mend or uninstall it, or set FIBREBOOK_PLUGINS to the plugins that you want"
WHOLE = "loading"  # what failed where nothing of a plugin is known
# without these it is not known what may be saved
JUDGE_SAVES = frozenset({WHOLE, "record_kinds", "extra_columns", "hard_rules"})


@dataclass(frozen=True)
class Fault:
    """What failed of a plugin, and how: `part` is a hook's name, "loading", or what it gave in words."""

    plugin: str
    part: str
    why: str

    def __str__(self) -> str:
        return f"plugin {self.plugin!r}: {self.why}" if self.plugin else self.why


class Faults:
    """The faults of one door, each until its part works again."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, str], Fault] = {}

    def note(self, plugin: str, part: str, why: str) -> None:
        """Keep that a part of a plugin failed."""
        self._found[plugin, part] = Fault(plugin, part, why)

    def well(self, plugin: str, part: str) -> None:
        """Forget that a part failed: it works."""
        self._found.pop((plugin, part), None)

    def forget(self, plugin: str) -> None:
        """Forget what failed of a plugin: it is not at the door any more."""
        self._found = {at: fault for at, fault in self._found.items() if at[0] != plugin}

    def found(self) -> list[Fault]:
        """Return the faults in the order in which they were met."""
        return list(self._found.values())


def in_words(faults: list[Fault]) -> str:
    """Return what a person is told of plugins that are not well; "" where all are."""
    if not faults:
        return ""
    told = "; ".join(dict.fromkeys(map(str, faults)))
    saves = " Nothing can be saved meanwhile." if any(f.part in JUDGE_SAVES for f in faults) else ""
    return f"Left out, for it is not well: {told}. {MEND}.{saves}"


def refuse(faults: list[Fault]) -> None:
    """Raise PluginError where it is not known what a plugin would have to say to a save."""
    judges = [f for f in faults if f.part in JUDGE_SAVES]
    if judges:
        told = "; ".join(map(str, judges))
        raise PluginError(f"nothing is saved while it is not known what a plugin has to say to it. {told}. {MEND}")
