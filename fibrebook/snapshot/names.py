"""One reader of what people call a thing, for every question about the plant: at the terminal, on a screen, in Python.

Whoever asks gets the same answer for the same words: what is called so as it is written; where nothing is, what is
called so but for case, width of letters and blanks; where nothing is, what has the same words (`words.spelling`).
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator, Sequence

import numpy as np

from fibrebook.errors import AmbiguousError, NotFoundError
from fibrebook.plant import Network
from fibrebook.plant.light_ways import light_ways
from fibrebook.plant.walk import Start
from fibrebook.records import as_label
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.places import vertices_of_whole
from fibrebook.snapshot.spoken import SpokenNames, several_meant
from fibrebook.snapshot.things import FORM, ON_ONE_PATH, SORTS, SPOKEN, WHOLE, Found, Said
from fibrebook.words.labels import natural
from fibrebook.words.lists import either
from fibrebook.words.nearest import did_you_mean
from fibrebook.words.spelling import READINGS, as_words, number_said, parted, plain

DIRECTIONS = ("a to b", "b to a")


class Names:
    """Reads what people call things, in one network; what it looks up it keeps.

    spoken : gives what is called otherwise than by its label, where the network is one site's; None = nothing is
    """

    def __init__(self, net: Network, spoken: Callable[[], SpokenNames] | None = None) -> None:
        self.net, self._spoken = net, spoken
        self._known: dict[tuple[str, Callable[[object], str] | None], dict[Hashable, list[Found]]] = {}

    def make_ready(self, kinds: Sequence[str]) -> None:
        """Look everything up beforehand, so that the first word that somebody types does not wait for it."""
        for kind in kinds:
            for reading in (*READINGS, None):
                self._index("cable" if kind == "core" else kind, reading)

    # --- what may be meant -------------------------------------------------------------------------------------------
    def meant(self, site: str, said: Said, kinds: Sequence[str] = ON_ONE_PATH) -> list[Found]:
        """Return everything that may be meant, all of one reading.

        Parameters
        ----------
        said : words as typed (C1/7, P1/12, `port P1/12`; labels may hold slashes: every way to part them is tried), or
            a sort of thing and its labels; a position may be left out
        kinds : the sorts of thing that may be meant
        """
        if not isinstance(said, str):
            given = [as_label(part) if part is not None else "" for part in said]
            if given and given[0] in SORTS and len(given) > 1:
                kind, *labels = given
                if kind not in kinds:
                    return []
                return self._labelled(site, kind, tuple(labels)) or self._written(site, "/".join(labels), (kind,))
            said = "/".join(given)
        head, _, rest = said.strip().partition(" ")
        found = self._written(site, rest, (head,)) if head in kinds and rest.strip() else []
        return found or self._written(site, said, kinds)

    def _labelled(self, site: str, kind: str, labels: tuple[str, ...]) -> list[Found]:
        found = (list(self._called(site, kind, labels, reading)) for reading in READINGS)
        return next(filter(None, found), [])

    def _written(self, site: str, text: str, kinds: Sequence[str]) -> list[Found]:
        """What some words may mean, by the strictest reading that finds anything."""
        parts = list(_ways_to_part(text))
        for reading in READINGS:
            found = [f for kind in kinds for labels in parts for f in self._called(site, kind, labels, reading)]
            if found:
                return list(dict.fromkeys(found))
        return list(dict.fromkeys(self._of_words(site, text, kinds)))

    def _called(
        self, site: str, kind: str, labels: tuple[str, ...], reading: Callable[[object], str]
    ) -> Sequence[Found]:
        if kind == "core":
            if len(labels) != 2:
                return ()
            return self._cores(self._index("cable", reading).get((site, reading(labels[0])), ()), labels[1])
        return self._index(kind, reading).get((site, *map(reading, labels)), ())

    def _of_words(self, site: str, text: str, kinds: Sequence[str]) -> Iterator[Found]:
        """What has the very words; a sort of thing named among them asks for that sort only."""
        words = as_words(text)
        spoken = {SPOKEN[w] for w in words if w in SPOKEN} & set(kinds)
        if spoken:
            words = tuple(w for w in words if w not in SPOKEN)
        if not words:
            return
        for kind in kinds:
            if spoken and kind not in spoken:
                continue
            if kind == "core":
                yield from self._cores(self._index("cable", None).get((site, words[:-1]), ()), words[-1])
            else:
                yield from self._index(kind, None).get((site, words), ())

    def _as_spoken(self, site: str, said: Said, kinds: Sequence[str]) -> list[Found]:
        """The one thing that people call so though no label is; plugins are asked only here."""
        if self._spoken is None:
            return []
        found: dict[Found, str] = {}
        for called in self._spoken().meant(parted(_shown(said))):
            for one in self._labelled(site, called.sort, called.key) if called.sort in kinds else ():
                found.setdefault(one, called.why)
        if len(found) > 1:
            raise several_meant(_shown(said), found)
        return list(found)

    def _cores(self, cables: Sequence[Found], number: str) -> list[Found]:
        n = number_said(number)
        count = self.net.ends.core_count
        return [
            Found("core", c.site, (*c.key, str(n)), c.row) for c in cables if n is not None and 1 <= n <= count[c.row]
        ]

    def _index(self, kind: str, reading: Callable[[object], str] | None) -> dict[Hashable, list[Found]]:
        """Things of a sort by site and labels, each label so read; None: by site and words."""
        if (kind, reading) not in self._known:
            known: dict[Hashable, list[Found]] = defaultdict(list)
            for found in self._all(kind):
                for count in range(SORTS[kind].least, len(found.key) + 1):
                    labels = found.key[:count]
                    known[
                        (found.site, as_words("/".join(labels)))
                        if reading is None
                        else (found.site, *map(reading, labels))
                    ].append(found)
            self._known[kind, reading] = dict(known)
        return self._known[kind, reading]

    def _all(self, kind: str) -> Iterator[Found]:
        sort = SORTS[kind]
        table = self.net.ends.table(sort.table)
        columns = [table[c].to_pylist() for c in ("site", *sort.columns)]
        seen = set()
        for row, (site, *labels) in enumerate(zip(*columns, strict=True)):
            key = tuple(label or "" for label in labels)
            if any(key) and (site, key) not in seen:
                seen.add((site, key))
                yield Found(kind, site, key, row)

    # --- exactly one -------------------------------------------------------------------------------------------------
    def one(self, site: str, said: Said, kinds: Sequence[str] = ON_ONE_PATH) -> Found:
        """Return the one thing that is meant.

        Raises
        ------
        NotFoundError : nothing is called so; tells what is, the nearest first. AmbiguousError : several things are
        """
        found = self.some(site, said, kinds)
        if len(found) == 1:
            return found[0]
        there = ", ".join(repr(f.key[-1]) for f in found)
        raise AmbiguousError(
            f"{found[0].kind} {'/'.join(found[0].key[:-1])!r} has the positions {there}: say which",
            [f.start for f in found],
        )

    def some(self, site: str, said: Said, kinds: Sequence[str] = ON_ONE_PATH, alike: int = 2) -> list[Found]:
        """Return the one thing that is meant, or all positions of the one port or interface; raises as `one`.

        alike : how many labels several things must have in common; 1 = all that is called so at one enclosure
        """
        found = self.meant(site, said, kinds) or self._as_spoken(site, said, kinds)
        if not found:
            raise self._missing(site, said, kinds)
        if len({(f.kind, *f.key[:alike]) for f in found}) > 1:
            named = "; ".join(f.text for f in found)
            raise AmbiguousError(
                f"{_shown(said)!r} may mean {named}: write the kind before it, and the labels as separate words, as "
                "they stand here",
                [f.start for f in found],
            )
        return found

    def channel_row(self, site: str, channel: object) -> int:
        """Row of a channel; raises as `one`."""
        return self.one(site, ("channel", channel), ("channel",)).row

    def label(self, site: str, said: str, kinds: Sequence[str]) -> str:
        """Return a label as it is recorded; as it was said where no one thing is called so."""
        labels = {f.key[-1] for f in self.meant(site, said, kinds)}
        return labels.pop() if len(labels) == 1 else said

    # --- where it is in the network ----------------------------------------------------------------------------------
    def start(self, site: str, said: Said, kinds: Sequence[str] = ON_ONE_PATH) -> Start:
        """Return where the path through a thing starts; a channel's begins at the interface that sends.

        ("channel", channel, "b to a") is the other direction. Raises as `one`.
        """
        direction = DIRECTIONS[0]
        if not isinstance(said, str) and len(said) == 3 and said[0] == "channel":
            said, direction = said[:2], str(said[2])
            if direction not in DIRECTIONS:
                raise NotFoundError(
                    f"{direction!r} is no start: give ('channel', channel) or ('channel', channel, 'b to a')"
                )
        found = self.one(site, said, kinds)
        return self._sender(found, direction) if found.kind == "channel" else self.begin(found)

    def begin(self, found: Found) -> Start:
        """Return where the path through a core, port or interface starts: a core's out of its end A, a port's at what
        is plugged in front, an interface's at itself.
        """
        ends = self.net.ends
        if found.kind == "core":
            core = int(ends.first_core[found.row]) + int(found.key[1]) - 1
            return Start(2 * core, 1, f"core {found.key[1]} of cable {found.key[0]}")
        first = ends.first_plug if found.kind == "port" else self.net.first_interface
        return Start(first + found.row, int(found.kind == "port"), f"{found.kind} {'/'.join(filter(None, found.key))}")

    def _sender(self, channel: Found, direction: str) -> Start:
        ways = light_ways(self.net)
        mine = (ways.channel == channel.row) & (ways.direction == DIRECTIONS.index(direction))
        if not mine.any():
            raise NotFoundError(
                f"channel {channel.key[0]!r}: no interface sends {direction}; add its Tx row to interfaces"
            )
        return Start(int(ways.sender[np.flatnonzero(mine)[0]]), 0, f"channel {channel.key[0]}")

    def vertices(self, site: str, said: Said) -> Ints:
        """Vertices of an element, or of all that belongs to a whole thing (a cable, an enclosure, a tray, a cord,
        equipment, a port with all its positions). Raises as `one`.
        """
        if not isinstance(said, str) and len(said) == 3 and said[0] == "channel":
            return np.array([self.start(site, said, ("channel",)).vertex], np.int64)
        found = self.some(site, said, (*ON_ONE_PATH, "channel", *WHOLE))
        kind, key = found[0].kind, found[0].key
        if kind in WHOLE:
            return vertices_of_whole(self.net, found[0].site, kind, key)
        if kind == "interface":
            found = [self.one(site, said, (kind,))]
        begins = [self._sender(f, DIRECTIONS[0]) if kind == "channel" else self.begin(f) for f in found]
        return np.array([b.vertex for b in begins], np.int64)

    # --- what is there instead ---------------------------------------------------------------------------------------
    def _missing(self, site: str, said: Said, kinds: Sequence[str]) -> NotFoundError:
        if isinstance(said, str) or not said or as_label(said[0]) not in SORTS:
            return self._nothing_called(site, said, kinds)
        kind, labels = str(said[0]), [as_label(part) if part is not None else "" for part in said[1:]]
        most = 2 if kind == "core" else len(SORTS[kind].columns)
        if kind not in kinds or len(labels) > most or len(labels) < (2 if kind == "core" else SORTS[kind].least):
            forms = either([FORM.get(k, f"({k!r}, {', '.join(SORTS[k].columns)})") for k in kinds])
            return NotFoundError(f"{tuple(said)!r} is no start: give {forms}")
        if kind == "core" and (cables := self._labelled(site, "cable", (labels[0],))):
            count = int(self.net.ends.core_count[cables[0].row])
            return NotFoundError(f"cable {cables[0].key[0]!r} has no core {labels[1]!r}: its cores are 1 to {count}")
        sort, here = SORTS[kind], [f for f in self._all("cable" if kind == "core" else kind) if f.site == site]
        for place, label in enumerate(labels[: len(sort.columns)]):
            known = list(dict.fromkeys(f.key[place] for f in sorted(here, key=lambda f: natural(f.key[place]))))
            here = [f for f in here if plain(f.key[place]) == plain(label)]
            if not here:
                break
        what, name = ("cable", labels[0]) if kind == "core" else (kind, "/".join(labels))
        return NotFoundError(f"site {site!r} has no {what} {name!r}; {did_you_mean(label, known)}")

    def _nothing_called(self, site: str, said: Said, kinds: Sequence[str]) -> NotFoundError:
        text = _shown(said)
        return NotFoundError(
            f"site {site!r} has no {either(list(kinds))} {text!r}: write cable/core as C1/7, a port as P1/12 or "
            f"P1/12/A, an interface as SW1/3/Tx{self._nearest(site, text, kinds)}"
        )

    def _nearest(self, site: str, text: str, kinds: Sequence[str]) -> str:
        """What may have been meant: a cable's other cores, or first labels like the first one said."""
        heads = [text.rpartition("/")[0] or text, text.partition("/")[0]]
        cables = [c for head in heads for c in self._labelled(site, "cable", (head,))] if "core" in kinds else []
        if cables:
            count = int(self.net.ends.core_count[cables[0].row])
            return f"; the cores of cable {cables[0].key[0]!r} are 1 to {count}"
        known = {f.key[0] for kind in kinds for f in self._all("cable" if kind == "core" else kind) if f.site == site}
        in_order = sorted(known - set(heads), key=natural)
        near = next(filter(None, (did_you_mean(head, in_order, otherwise="") for head in heads)), "")
        return f"; {near}" if near else ""


def _shown(said: Said) -> str:
    return said if isinstance(said, str) else " ".join(str(part) for part in said)


def _ways_to_part(text: str) -> Iterator[tuple[str, ...]]:
    """Every way to part a text at its slashes into one, two or three labels."""
    parts = text.split("/")
    for count in (1, 2, 3):
        for cuts in itertools.combinations(range(1, len(parts)), count - 1):
            edges = (0, *cuts, len(parts))
            yield tuple("/".join(parts[a:b]).strip() for a, b in itertools.pairwise(edges))
