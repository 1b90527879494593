"""Check of splices: cores that change places between two cables whose other cores are joined in order."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.analyses.advice.situation import Advice, Situation
from fibrebook.records.references.labels_as_numbers import Index, Ints, Labels, integers
from fibrebook.reference.colours import MOST_CORES, read_colour
from fibrebook.words.lists import both

Flags = npt.NDArray[np.bool_]
WIDE = 4 * MOST_CORES  # more than any core number with any shift of it
COLOURS = ("tube_colour", "tube_tracer", "core_colour", "core_tracer")


class SplicedEnds(NamedTuple):
    """Splices between two cable ends; of the two, the one that comes first in the register is always `one`."""

    row: Ints  # of the table of splices
    one: Ints  # cores, as numbers of the network
    other: Ints
    pair: Ints  # which two cable ends it joins


def cores_crossed(s: Situation) -> Iterator[Advice]:
    """Cores that take one another's places where two cables are spliced and at least half of the joints are in order.

    In order are, tube by tube: straight through (a tube may go to any other tube), by colour where the colour codes
    differ, or rising (the next free core each time). Fewer than half, such as pairs that are all turned over, show no
    order that others could break; nor does a lone joint from one tube to another. The half is our own choice.
    """
    joined = _joined(s)
    if not len(joined.row):
        return
    cores = s.seen.cores
    crossed = np.flatnonzero(_crossed(s, joined, cores))
    crossed = crossed[np.lexsort((joined.one[crossed], joined.pair[crossed]))]
    for members in np.split(crossed, np.flatnonzero(np.diff(joined.pair[crossed])) + 1) if len(crossed) else ():
        rows = list(s.rows("splices", joined.row[members]))
        one, other = (_cores_in_words(s, cores, side[members]) for side in (joined.one, joined.other))
        trays = list(dict.fromkeys(r["tray"] for r in rows))
        tray = f"tray{'s' if len(trays) > 1 else ''} {both(trays)}"
        what = f"in {rows[0]['enclosure']}, {tray}, {one} are spliced to {other}, though the others are in order"
        do = "look at the colours in the tray; mend the joints or the record"
        yield s.advise("colour order differs", "splices", rows[0], what, do)


def _joined(s: Situation) -> SplicedEnds:
    """Splices whose both core ends are known, without those that turn a cable end back into itself."""
    a, b = (side.vertex for side in s.net.ends.splice_ends)
    row = np.flatnonzero((a >= 0) & (b >= 0))
    ends = np.stack([a[row], b[row]])
    cable_end = 2 * s.net.ends.core_cable[ends // 2] + ends % 2
    ends = np.where(cable_end[0] <= cable_end[1], ends, ends[::-1])
    cable_end = np.sort(cable_end, axis=0)
    other = cable_end[0] != cable_end[1]
    return SplicedEnds(row[other], ends[0, other] // 2, ends[1, other] // 2, _numbered(*cable_end[:, other]))


def _crossed(s: Situation, joined: SplicedEnds, cores: pa.Table) -> Flags:
    number, tube = s.net.ends.core_number, integers(cores["tube"])
    x, y, pair = number[joined.one], number[joined.other], joined.pair
    lane, far_lane = _numbered(pair, tube[joined.one]), _numbered(pair, tube[joined.other])
    aim = x + _commonest(lane, y - x)
    looks = _looks(cores)
    here, there = looks[joined.one], looks[joined.other]
    place, aim_place = _rank(lane, y), _rank(lane, x)

    straight = (y == aim) | (y - x == _commonest(far_lane, y - x))
    far_tube = tube[joined.other]
    by_colour = (here == there) & (far_tube == _commonest(lane, far_tube))
    rising = place == aim_place
    fits = np.stack([straight, by_colour, rising])
    count = np.stack([np.bincount(lane, f) for f in fits])
    best = np.where(2 * count.max(axis=0) >= np.bincount(lane), count.argmax(axis=0), -1)[lane]
    odd = (best >= 0) & ~np.choose(np.maximum(best, 0), fits)

    tubes = _numbered(lane, far_lane)
    last = np.zeros(len(np.bincount(lane)), np.int64)
    np.maximum.at(last, lane[rising], place[rising])
    within = odd & (place < last[lane]) & (aim_place < last[lane])  # at the end, the later joint may be the lower core
    out = np.zeros(len(x), bool)
    for order, group, want, got, asked in (
        (0, pair, aim, y, odd), (1, tubes, here, there, odd & (here != there)), (2, lane, aim_place, place, within),
    ):  # fmt: skip
        these = np.flatnonzero(asked & (best == order))
        wide = max(WIDE, int(looks.max()) + 1)
        turn = _in_turn(group[these] * wide + want[these], group[these] * wide + got[these], pairs_only=order == 2)
        out[these[turn]] = True
    return out


def _in_turn(wanted: Ints, got: Ints, pairs_only: bool) -> Flags:
    """Tell which joints hold one another's places: from each to the one whose place it holds, and back at last."""
    following = np.append(Index(wanted).rows(got), -1)  # -1 leads to itself
    if pairs_only:
        found: Flags = following[following[:-1]] == np.arange(len(wanted))
        return found
    for _ in range(MOST_CORES.bit_length()):
        following = following[following]
    return following[:-1] >= 0


def _numbered(*columns: Ints) -> Ints:
    """Return one integer for each set of equal values, from 0."""
    _, found = np.unique(np.stack(columns), axis=1, return_inverse=True)
    return found.reshape(-1)


def _commonest(lane: Ints, value: Ints) -> Ints:
    """Return the commonest value of each lane, of equally common ones the nearest to nought, for each joint."""
    kinds, count = np.unique(np.stack([lane, value]), axis=1, return_counts=True)
    order = np.lexsort((np.abs(kinds[1]), -count, kinds[0]))
    _, first = np.unique(kinds[0][order], return_index=True)
    found: Ints = kinds[1][order][first][lane]
    return found


def _rank(lane: Ints, value: Ints) -> Ints:
    """Return the place of each value among those of its lane, from 0."""
    order = np.lexsort((value, lane))
    out = np.empty(len(lane), np.int64)
    out[order] = np.arange(len(lane)) - np.searchsorted(lane[order], lane[order])
    return out


def _looks(cores: pa.Table) -> Ints:
    """Return an integer for the colour and tracer of each core; one without a colour looks like no other."""
    labels = Labels()
    colour, tracer = labels.ids(cores["core_colour"]), labels.ids(cores["core_tracer"])
    same = Labels()  # slate and grey look alike
    alike = same.ids(pa.array([read_colour(t) or t for t in labels.texts], pa.string()))
    look = alike[colour] * len(labels.texts) + alike[tracer]
    return np.where(colour > 0, look, len(labels.texts) ** 2 + np.arange(len(colour)))


def _cores_in_words(s: Situation, cores: pa.Table, which: Ints) -> str:
    """Return "cores 3 (green) and 4 (brown) of C1"."""
    rows = cores.select(["cable", "core", *COLOURS]).take(pa.array(which)).to_pylist()
    told = []
    for row in rows:
        tube = f"{_colour(row['tube_colour'], row['tube_tracer'])} tube" if row["tube_colour"] else ""
        look = ", ".join(filter(None, (tube, _colour(row["core_colour"], row["core_tracer"]))))
        told.append(f"{row['core']} ({look})" if look else str(row["core"]))
    return f"cores {both(told)} of {rows[0]['cable']}"


def _colour(colour: str | None, tracer: str | None) -> str:
    return " with ".join(filter(None, (colour, tracer)))
