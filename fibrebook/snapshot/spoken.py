"""Records by what people call them, other than their labels: our ways and those of plugins, one after another."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from fibrebook.errors import AmbiguousError
from fibrebook.plugins import gathered_spoken_names, note
from fibrebook.snapshot.things import SORTS, SPOKEN, Found
from fibrebook.words.spelling import parted

if TYPE_CHECKING:
    from fibrebook.snapshot.snapshot import PlantSnapshot

NAMED = 8  # of several things that words may mean
Key = tuple[object, ...]
Meant = tuple[list[tuple[Key, str]], list[str]]  # (key without the site, why), and the words that are left
SORT_OF_KIND = {sort.table: name for name, sort in SORTS.items() if name not in ("core", "tray")} | {"cores": "core"}


class Called(NamedTuple):
    """What some words mean: the sort of thing (of `SORTS`), its key without the site, and why in a few words."""

    sort: str
    key: tuple[str, ...]
    why: str


class SpokenNames:
    """Reads what people call records at a site; what breaks of a plugin is noted and left out.

    Parameters
    ----------
    seen : the site
    """

    def __init__(self, seen: PlantSnapshot) -> None:
        self._ways: list[tuple[str, str, Callable[[Sequence[str]], Meant]]] = []
        for plugin, declared in gathered_spoken_names():
            part = f"spoken_names of {declared.name}"
            if declared.name not in SORT_OF_KIND:
                there = ", ".join(sorted(SORT_OF_KIND))
                note(plugin, part, f"its spoken_names are of {declared.name!r}, which is none of {there}")
                continue
            try:
                self._ways.append((plugin, declared.name, declared.function(seen)))
                note(plugin, part)
            except Exception as error:  # whatever a stranger's function may raise
                note(plugin, part, f"its spoken_names of {declared.name} broke: {type(error).__name__}: {error}")

    def meant(self, words: Sequence[str]) -> list[Called]:
        """Return what some words (small letters) mean, the likeliest of each way first.

        Words that a way has no use for must begin words of the label.
        """
        return [called for plugin, kind, asked in self._ways for called in _called(plugin, kind, asked, words)]


def _called(plugin: str, kind: str, asked: Callable[[Sequence[str]], Meant], words: Sequence[str]) -> Iterator[Called]:
    part = f"spoken_names of {kind}"
    try:
        found, left = asked(words)
        told = [Called(SORT_OF_KIND[kind], tuple(str(k) for k in key), str(why)) for key, why in found]
        begins = [str(word) for word in left if word not in SPOKEN]
    except Exception as error:  # whatever a stranger's function may raise
        note(plugin, part, f"its spoken_names of {kind} broke: {type(error).__name__}: {error}")
        return
    note(plugin, part)
    for called in told:
        own = parted(" ".join(called.key[:1] if called.sort == "core" else called.key))
        if all(any(word.startswith(b) for word in own) for b in begins):
            yield called


def several_meant(said: str, found: Mapping[Found, str]) -> AmbiguousError:
    """Return the error that names the things that some words may mean, each with why."""
    named = [f"{one.kind} {'/'.join(filter(None, one.key))} ({why})" for one, why in found.items()]
    more = f"; and {len(named) - NAMED} more" if len(named) > NAMED else ""
    return AmbiguousError(
        f"{said!r} may mean {'; '.join(named[:NAMED])}{more}: write its label", [one.start for one in found]
    )
