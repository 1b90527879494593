"""All vertices that belong to a whole thing: a cable, an enclosure, a tray, a cord, a piece of equipment."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.losses.elements import text
from fibrebook.plant import Network
from fibrebook.plant.network import PATCH, SPLICE
from fibrebook.records.references.labels_as_numbers import Ints

Flags = npt.NDArray[np.bool_]


def vertices_of_whole(net: Network, site: str, kind: str, key: tuple[str, ...]) -> Ints:
    """Vertices of a thing that is there, by its labels as recorded; one for each core, plug, splice or strand of it."""
    found: Ints
    if kind == "cable":
        first = net.ends.first_core
        row = net.ends.cable_rows(_site(net, site), pa.array([key[0]]))[0]
        found = 2 * np.arange(first[row], first[row + 1])
    elif kind == "cord":
        found = _cord(net, site, key[0])
    elif kind == "equipment":
        found = _plugs(net, place_row(net, site, key[0]))
    else:
        here = splices_in(net, place_row(net, site, key[0]))
        if kind == "enclosure":
            found = np.concatenate([_plugs(net, place_row(net, site, key[0])), _spliced(net, here)])
        else:
            found = _spliced(net, here & (text(net.ends.table("splices")["tray"]) == key[1]))
    real: Ints = found[found >= 0]
    return real


def place_row(net: Network, site: str, label: str) -> int:
    """Place row of an enclosure or equipment by its label as recorded; -1 where there is none."""
    return int(net.ends.place_rows(_site(net, site), pa.array([label]))[0])


def splices_in(net: Network, place: int) -> Flags:
    """Which splices lie in the enclosure of a place row."""
    e = net.ends
    return np.asarray(e.place_rows(e.site_ids("splices"), e.table("splices")["enclosure"]) == place)


def _site(net: Network, site: str) -> Ints:
    return net.ends.site_labels.ids(pa.array([site]))


def _plugs(net: Network, place: int) -> Ints:
    return net.ends.first_plug + np.flatnonzero(net.ends.plug_place == place)


def _spliced(net: Network, rows: Flags) -> Ints:
    j = net.joints
    found: Ints = j.u[(j.what == SPLICE) & np.append(rows, False)[np.where(j.what == SPLICE, j.row, -1)]] >> 1
    return found


def _cord(net: Network, site: str, cord: str) -> Ints:
    e, j = net.ends, net.joints
    rows = (text(e.table("patches")["cord"]) == cord) & (e.site_ids("patches") == _site(net, site)[0])
    found: Ints = j.u[(j.what == PATCH) & np.append(rows, False)[np.where(j.what == PATCH, j.row, -1)]] >> 1
    return found
