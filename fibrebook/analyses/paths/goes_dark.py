"""What goes dark if something is unplugged: every channel whose light passes through it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.errors import NotFoundError
from fibrebook.losses.elements import text
from fibrebook.plant import Network
from fibrebook.plant.describe import describe
from fibrebook.plant.network import PATCH, SPLICE
from fibrebook.plant.states import path_channel
from fibrebook.records import as_label, to_frame
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.snapshot import network
from fibrebook.snapshot.starts import any_start
from fibrebook.words.labels import natural
from fibrebook.words.nearest import did_you_mean

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

Flags = npt.NDArray[np.bool_]
SCHEMA = pa.schema(
    [
        ("site", pa.string()), ("channel", pa.string()), ("purpose", pa.string()), ("application", pa.string()),
        ("a", pa.string()), ("b", pa.string()), ("strands", pa.int64()),
    ]
)  # fmt: skip


def goes_dark(reg: Register, site: str, start: Sequence[object]) -> pd.DataFrame:
    """Tell which channels stop if an element is unplugged, cut or opened.

    Parameters
    ----------
    site : label of the site
    start : a start of `trace`, or a whole thing: ("cable", cable), ("enclosure", enclosure), ("tray", enclosure, tray),
        ("port", enclosure, port) with all its positions, ("cord", cord), ("equipment", equipment)

    Returns
    -------
    DataFrame, one row a channel: site, channel, purpose, application, a and b (equipment/interface), strands (how many
    of its fibres pass here). Light that may be on without a channel in the register is told too, one row a path with an
    interface at an end: channel is blank, purpose says so, a and b name its far ends.

    Raises NotFoundError, with the nearest names, where there is no such thing.
    """
    return to_frame(goes_dark_table(network(reg, site), site, start))


def goes_dark_table(net: Network, site: str, start: Sequence[object]) -> pa.Table:
    """As `goes_dark`, as an Arrow table, from the site's network."""
    labels = np.unique(net.paths.label[vertices_of(net, site, start)])
    channel = path_channel(net)[labels]
    strands = np.bincount(channel[channel >= 0], minlength=net.ends.table("channels").num_rows)
    rows = [_channel(net, int(i), int(strands[i])) for i in np.flatnonzero(strands)]
    return pa.Table.from_pylist(rows + _without_channel(net, site, labels[channel < 0]), schema=SCHEMA)


def vertices_of(net: Network, site: str, start: Sequence[object]) -> Ints:
    """Vertices of an element, or of all that belongs to a whole thing."""
    what, *names = start
    if what in _WHOLE and len(names) == _WHOLE[what][0]:
        found = _WHOLE[str(what)][1](net, site, *(as_label(n) if n is not None else "" for n in names))
        answer: Ints = found[found >= 0]
        return answer
    return np.array([any_start(net, site, start).vertex], np.int64)


def _cable(net: Network, site: str, cable: str) -> Ints:
    e = net.ends
    row = e.cable_rows(e.site_labels.ids(pa.array([site])), pa.array([cable]))[0]
    if row < 0:
        raise _missing(site, "cable", cable, e.table("cables")["cable"])
    return 2 * np.arange(e.first_core[row], e.first_core[row + 1])


def place_of(net: Network, site: str, label: str, kind: str) -> int:
    """Place row of an enclosure or equipment; NotFoundError with the nearest names where there is none."""
    e = net.ends
    row = int(e.place_rows(e.site_labels.ids(pa.array([site])), pa.array([label]))[0])
    if row < 0 or (row < e.n_enclosures) != (kind == "enclosure"):
        raise _missing(site, kind, label, e.table(kind if kind == "equipment" else "enclosures")[kind])
    return row


def _plugs(net: Network, place: int) -> Ints:
    return net.ends.first_plug + np.flatnonzero(net.ends.plug_place == place)


def _enclosure(net: Network, site: str, enclosure: str) -> Ints:
    place = place_of(net, site, enclosure, "enclosure")
    return np.concatenate([_plugs(net, place), _splices(net, _at(net, "splices", place))])


def _tray(net: Network, site: str, enclosure: str, tray: str) -> Ints:
    here = _at(net, "splices", place_of(net, site, enclosure, "enclosure"))
    trays = net.ends.table("splices")["tray"]
    rows = here & (text(trays) == tray)
    if not rows.any():
        raise _missing(
            site, f"tray of {enclosure} with splices,", tray, pa.chunked_array([trays.filter(pa.array(here))])
        )
    return _splices(net, rows)


def _at(net: Network, kind: str, place: int) -> Flags:
    e = net.ends
    return np.asarray(e.place_rows(e.site_ids(kind), e.table(kind)["enclosure"]) == place)


def _splices(net: Network, rows: Flags) -> Ints:
    j = net.joints
    found: Ints = j.u[(j.what == SPLICE) & np.append(rows, False)[np.where(j.what == SPLICE, j.row, -1)]] >> 1
    return found


def _port(net: Network, site: str, enclosure: str, port: str) -> Ints:
    found = _plugs(net, place_of(net, site, enclosure, "enclosure"))
    ports = net.ends.table("ports")["port"]
    mine = found[text(ports.take(pa.array(found - net.ends.first_plug))) == port]
    if not len(mine):
        raise _missing(site, f"port of {enclosure},", port, ports.take(pa.array(found - net.ends.first_plug)))
    answer: Ints = mine
    return answer


def _cord(net: Network, site: str, cord: str) -> Ints:
    e, j = net.ends, net.joints
    cords = e.table("patches")["cord"]
    rows = (text(cords) == cord) & (e.site_ids("patches") == e.site_labels.ids(pa.array([site]))[0])
    if not rows.any():
        raise _missing(site, "cord", cord, cords)
    found: Ints = j.u[(j.what == PATCH) & np.append(rows, False)[np.where(j.what == PATCH, j.row, -1)]] >> 1
    return found


def _equipment(net: Network, site: str, equipment: str) -> Ints:
    return _plugs(net, place_of(net, site, equipment, "equipment"))


_WHOLE: dict[Any, Any] = {
    "cable": (1, _cable), "enclosure": (1, _enclosure), "tray": (2, _tray), "port": (2, _port), "cord": (1, _cord),
    "equipment": (1, _equipment),
}  # fmt: skip


def _missing(site: str, kind: str, label: str, column: pa.ChunkedArray) -> NotFoundError:
    there = sorted({str(v) for v in column.unique().to_pylist() if v}, key=natural)
    return NotFoundError(f"site {site!r} has no {kind} {label!r}; {did_you_mean(label, there)}")


def _channel(net: Network, i: int, strands: int) -> dict[str, Any]:
    row = net.ends.table("channels").slice(i, 1).to_pylist()[0]
    ends = {e: f"{row[f'{e}_equipment']}/{row[f'{e}_interface']}" for e in "ab"}
    return {k: row[k] for k in ("site", "channel", "purpose", "application")} | ends | {"strands": strands}


def _without_channel(net: Network, site: str, labels: Ints) -> list[dict[str, Any]]:
    """Paths with an interface at an end that serve no channel: whether they carry light, nobody wrote down."""
    first, last = (net.paths.final[2 * labels + side].astype(np.int64) >> 1 for side in (0, 1))
    lit = (net.is_interface(first) | net.is_interface(last)) & (first != last)
    ends = [describe(net, v[lit], net.paths.loops[v[lit]]).text.to_pylist() for v in (first, last)]
    return [
        {"site": site, "channel": "", "purpose": "no channel recorded, may carry light", "application": None,
         "a": a, "b": b, "strands": 1}
        for a, b in zip(*ends, strict=True)
    ]  # fmt: skip
