"""Checks of cords against where they are and what they are plugged into, and of lengths that are nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fibrebook.analyses.advice.situation import Advice, Situation
from fibrebook.light.meeting import meeting
from fibrebook.losses.elements import floats_or_nan, text
from fibrebook.records.references.labels_as_numbers import Index, Ints
from fibrebook.reference.fibres import core_um_of, mode_of

Flags = npt.NDArray[np.bool_]
Texts = npt.NDArray[np.object_]
LEFT_IN = "say where it is now, or take the cord out; a way between rooms is a cable, with a panel at each end"
SHORT = "correct the length, the location or the port: this cord does not reach"


class CordPlaces(NamedTuple):
    """Location of both ends of some cords: rows of `cords` and of `locations`."""

    row: Ints
    one: Ints
    other: Ints


def cord_between_places(s: Situation) -> Iterator[Advice]:
    """A cord whose ends are in two rooms, as where equipment was moved; one too short for the way between them."""
    found = _between(s)
    if not len(found.row):
        return
    metres = floats_or_nan(s.table("patches")["length_m"])[found.row]
    way_m = _shortest_cable_m(s, found)
    short = metres < way_m - 2 * s.values.practice("slack at an enclosure")
    label = text(s.table("locations")["location"])
    for row, here, there, too_short, way in zip(
        s.rows("patches", found.row), label[found.one], label[found.other], short, way_m, strict=True
    ):
        if too_short:
            what = f"{row['length_m']:g} m between {here} and {there}, where the shortest cable is {way:g} m"
            yield s.advise("cord too short", "patches", row, what, SHORT)
        else:
            what = f"one end is at {here} ({row['a_at']}), the other at {there} ({row['b_at']}): was one of them moved?"
            yield s.advise("cord between places", "patches", row, what, LEFT_IN)


def _between(s: Situation) -> CordPlaces:
    """Cords that end at two locations which are not told to be one room; of a cord's strands the first."""
    e = s.net.ends
    (a, _), (b, _) = e.patch_ends
    at = _location_of_places(s)
    row = np.flatnonzero((a >= e.first_plug) & (b >= e.first_plug) & (a < e.first_plug + e.n_plugs))
    row = row[b[row] < e.first_plug + e.n_plugs]
    one, other = (at[e.plug_place[side[row] - e.first_plug]] for side in (a, b))
    good = (one >= 0) & (other >= 0) & (one != other)
    row, one, other = row[good], one[good], other[good]
    apart = ~_one_room(s, one, other)
    row, one, other = row[apart], one[apart], other[apart]
    cord = np.stack([e.site_ids("patches")[row], e.place_labels.ids(s.table("patches")["cord"])[row]])
    first = np.sort(np.unique(cord, axis=1, return_index=True)[1])
    return CordPlaces(row[first], one[first], other[first])


def _location_of_places(s: Situation) -> Ints:
    """Row in `locations` of each place (enclosures, then equipment), -1 where none is told; one more -1 at the end."""
    e, words = s.net.ends, s.net.ends.place_labels
    where = [words.ids(s.table(kind)["location"]) for kind in ("enclosures", "equipment")]
    named, own = np.concatenate(where), words.ids(s.table("locations")["location"])
    width = len(words)
    index = Index(e.site_ids("locations") * width + own)
    found = np.where(named == 0, -1, index.rows(e.place_site * width + named))
    return np.append(found, -1).astype(np.int64)


def _one_room(s: Situation, one: Ints, other: Ints) -> Flags:
    """Whether two locations are told to be in one room: same room, and buildings that do not contradict."""
    room, building = (_folded(text(s.table("locations")[c])) for c in ("room", "building"))
    same_room = (room[one] != "") & (room[one] == room[other])
    contradict = (building[one] != "") & (building[other] != "") & (building[one] != building[other])
    return np.asarray(same_room & ~contradict, bool)


def _folded(words: Texts) -> Texts:
    return np.array([" ".join(w.casefold().split()) for w in words.tolist()], dtype=object)


def _shortest_cable_m(s: Situation, found: CordPlaces) -> npt.NDArray[np.float64]:
    """Length [m] of the shortest cable between the two locations of each cord; NaN where none of known length runs."""
    at = _location_of_places(s)
    ends = [at[side] for side in s.net.ends.cable_place]
    metres = floats_or_nan(s.table("cables")["length_m"])
    n = s.table("locations").num_rows + 1

    def pair(x: Ints, y: Ints) -> Ints:
        found: Ints = np.minimum(x, y) * n + np.maximum(x, y)
        return found

    there = (ends[0] >= 0) & (ends[1] >= 0) & (ends[0] != ends[1]) & (metres > 0)
    asked, which = np.unique(pair(found.one, found.other), return_inverse=True)
    of_cable = pair(ends[0][there], ends[1][there])
    place = np.minimum(np.searchsorted(asked, of_cable), len(asked) - 1)
    hit = asked[place] == of_cable
    least = np.full(len(asked), np.inf)
    np.minimum.at(least, place[hit], metres[there][hit])
    return np.where(np.isinf(least), np.nan, least)[which]


def cord_does_not_fit(s: Situation) -> Iterator[Advice]:
    """A cord whose end faces or fibre are recorded, in a port of another polish or class."""
    e, cords = s.net.ends, s.table("patches")
    own_class, port_class = text(cords["fibre_class"]), text(s.table("ports")["fibre_class"])
    port_polish = text(s.table("ports")["polish"])
    for side, (vertex, _) in zip("ab", e.patch_ends, strict=True):
        at = np.flatnonzero(s.net.is_port(vertex))
        port = vertex[at] - e.first_plug
        own, theirs = text(cords[f"{side}_polish"])[at], port_polish[port]
        bad = (own != "") & (theirs != "") & ((own == "APC") != (theirs == "APC"))
        for row, x, y in zip(s.rows("patches", at[bad]), own[bad], theirs[bad], strict=True):
            place = f"{row[f'{side}_at']}/{row[f'{side}_port']}"
            what = f"its {x} end is in a port of {y} polish, {place}: angled on flat leaves a gap, spoils faces"
            yield s.advise("polish mismatch", "patches", row, what, "fit a cord with the right polish at each end")
        mine, ports = own_class[at], port_class[port]
        for row, x, y in zip(s.rows("patches", at), mine, ports, strict=True) if (mine != "").any() else ():
            kind = _differ(x, y)
            if kind:
                what = (
                    f"a cord of {x} in a port of {y}, {row[f'{side}_at']}/{row[f'{side}_port']}: {meeting(x, y).words}"
                )
                yield s.advise(kind, "patches", row, what, "fit a cord of the class behind its ports")


def _differ(one: str, other: str) -> str:
    """Return the check that two classes fail: of mode, of core, "" where they belong together or are not known."""
    modes = mode_of(one), mode_of(other)
    if None in modes:
        return ""
    if modes[0] != modes[1]:
        return "mode mismatch"
    return "core mismatch" if core_um_of(one) != core_um_of(other) else ""


def length_of_nothing(s: Situation) -> Iterator[Advice]:
    """A cable or cord that is said to be 0 m long: known to be nothing, and counted as nothing."""
    for kind, do in (
        ("cables", "read the marks on its sheath at both ends"),
        ("patches", "measure it, or leave it blank"),
    ):
        for row in s.rows(kind, floats_or_nan(s.table(kind)["length_m"]) == 0):
            what = "0 m long: its fibre counts as no loss; a length that is not known is left blank"
            yield s.advise("length is nothing", kind, row, what, do)
