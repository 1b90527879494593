"""Cores as people speak of them: a colour and a number ("orange 7", "tube 2 green"), of one site or all."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from fibrebook.reference.colours import read_colour

if TYPE_CHECKING:
    from fibrebook.snapshot.snapshot import PlantSnapshot

Asked = tuple[tuple[object, ...], str]  # (cable, core), why it was found
SHORTEST = 3  # letters of a colour's name: shorter ones (SW, BR, OR) are labels more often


def by_colour(seen: PlantSnapshot) -> Callable[[Sequence[str]], tuple[list[Asked], list[str]]]:
    """Return the reader of a site's cores by a colour and a number, as the hook `spoken_names` wants it."""
    return SpokenCores(seen.cores).asked


class SpokenCores:
    """Every core by what may be said of it.

    A colour with a number is, the likeliest first: the core of that number in the tube of that colour; the core of
    that colour in the tube of that number; the core of that number where it has that colour.

    Parameters
    ----------
    cores : every core in full, cable after cable, tubes in order
    """

    def __init__(self, cores: pa.Table) -> None:
        self._by: dict[tuple[str, int], list[tuple[int, str, int, str]]] = defaultdict(list)
        counts: Counter[tuple[Any, ...]] = Counter()
        named = cache(read_colour)  # every code's spelling of a colour is one word
        columns = [cores[n].to_pylist() for n in ("site", "cable", "core", "tube", "tube_colour", "core_colour")]
        for site, cable, core, tube, tube_as_spelt, core_as_spelt in zip(*columns, strict=True):
            tube_colour, core_colour = (named(c) or c if c else None for c in (tube_as_spelt, core_as_spelt))
            counts[(site, cable, tube)] += 1
            place = counts[(site, cable, tube)]
            if tube_colour:
                own = f", {core_colour}" if core_colour else ""
                self._by[(tube_colour, place)].append((0, cable, core, f"{tube_colour} tube, core {place} in it{own}"))
            if core_colour and tube and tube_colour:
                self._by[(core_colour, tube)].append(
                    (1, cable, core, f"{core_colour} core in tube {tube} ({tube_colour})")
                )
            if core_colour:
                self._by[(core_colour, core)].append((2, cable, core, f"{core_colour} core, number {core}"))

    def asked(self, words: Sequence[str]) -> tuple[list[Asked], list[str]]:
        """Return the cores that a colour and a number among some words ask for, best first, and the other words.

        No core, and all words, where they are not exactly one colour and one number.
        """
        colours = [(i, read_colour(w)) for i, w in enumerate(words) if len(w) >= SHORTEST]
        colours = [(i, c) for i, c in colours if c]
        numbers = [i for i, w in enumerate(words) if w.isdecimal() and len(w) < 5]
        if len(colours) != 1 or not numbers:
            return [], list(words)
        at, colour = colours[0]
        # the number beside the colour: "HO HL 1 orange 7" asks for 7
        number = next((n for n in numbers if n > at), numbers[-1])
        rest = [w for i, w in enumerate(words) if i not in (at, number) and w not in ("tube", "core", "fibre")]
        found = sorted(self._by.get((str(colour), int(words[number])), ()), key=lambda f: f[0])
        unique: dict[tuple[str, int], str] = {}
        for _, cable, core, why in found:
            unique.setdefault((cable, core), why)
        return [((cable, core), why) for (cable, core), why in unique.items()], rest
