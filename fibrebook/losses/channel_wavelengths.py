"""What is weighed: one row a channel, direction and wavelength, with the powers at both ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fibrebook.light.catalogue.values import Values
from fibrebook.losses.elements import floats_or_nan
from fibrebook.losses.table import LossTable
from fibrebook.plant import Network
from fibrebook.plant.light_ways import Ways
from fibrebook.plant.states import path_channel
from fibrebook.records.references.labels_as_numbers import Ints, Labels
from fibrebook.reference.fibres import mode_of

Floats = npt.NDArray[np.float64]
# What to weigh at where the application is not known: the windows of the trade (common practice, no source).
WINDOWS_NM = {"multimode": (850.0, 1300.0), "single-mode": (1310.0, 1550.0)}


@dataclass(frozen=True)
class Power:
    """Transceiver powers of each beam [dBm]; NaN where not known."""

    launch_min_dbm: Floats
    launch_max_dbm: Floats
    receive_min_dbm: Floats
    receive_max_dbm: Floats
    damage_dbm: Floats


@dataclass(frozen=True)
class Beams:
    """One row a way of the light and wavelength: row into `ways`, the application (a number into names), wavelength."""

    way: Ints
    application: Ints
    names: list[str]
    wavelength_nm: Floats


def beams_of(losses: LossTable, ways: Ways, path: Ints) -> Beams:
    """Give a row for each wavelength that runs each way of each channel; `path` is each way's path label."""
    net, words = losses.net, Labels()
    wanted = words.ids(net.ends.table("channels")["application"])[ways.channel]
    own = words.ids(net.ends.table("interfaces")["application"])[ways.sender - net.first_interface]
    single = np.array([mode_of(n, values=losses.values) == "single-mode" for n in losses.class_names], bool)
    is_single = (losses.classes_on(path) & single).any(axis=1)
    kinds, kind_of = np.unique((wanted * len(words) + own) * 2 + is_single, return_inverse=True)
    told = [
        _sent(losses.values, words.texts[k // 2 // len(words)], words.texts[k // 2 % len(words)], bool(k % 2))
        for k in kinds
    ]
    count = np.array([len(nm) for _, nm in told], np.int64)
    way = np.repeat(np.arange(len(path)), count[kind_of])
    first = np.concatenate([[0], np.cumsum(count)])[:-1]
    nth = np.arange(len(way)) - np.repeat(np.cumsum(count[kind_of]) - count[kind_of], count[kind_of])
    flat = np.array([nm for _, sent in told for nm in sent], np.float64)
    return Beams(way, kind_of[way], [name for name, _ in told], flat[first[kind_of[way]] + nth])


def _sent(
    values: Values, channel_application: str, own_application: str, single: bool
) -> tuple[str, tuple[float, ...]]:
    """Name and wavelengths sent: the interface's own application tells where the channel's names only the family."""
    for name in (channel_application, own_application):
        known = values.application_name(name)
        if known is None:
            continue
        found = values.application(known)
        own = values.application_name(own_application)
        if own and values.application(own).family == found.family:
            found = values.application(own)
        return channel_application or found.name, found.wavelengths_nm
    return channel_application or own_application, WINDOWS_NM["single-mode" if single else "multimode"]


def powers_of(values: Values, net: Network, ways: Ways, beams: Beams) -> Power:
    """Give the interfaces' own powers; for too much light the application's published ones also serve."""
    faces, first = net.ends.table("interfaces"), net.first_interface
    sender = (ways.sender - first)[beams.way]
    receiver = np.where(net.is_interface(ways.far), ways.far - first, 0)[beams.way]
    words = Labels()
    own = words.ids(faces["application"])
    own_published = np.array([_published(values, n) for n in words.texts], np.float64)[own]
    published = np.array([_published(values, n) for n in beams.names], np.float64).reshape(-1, 3)[beams.application]
    launch_min, launch_max = (floats_or_nan(faces[c])[sender] for c in ("launch_min_dbm", "launch_max_dbm"))
    receive_min, receive_max = (floats_or_nan(faces[c])[receiver] for c in ("receive_min_dbm", "receive_max_dbm"))
    return Power(
        launch_min,
        _first_known(launch_max, own_published[sender, 0], published[:, 0]),
        receive_min,
        _first_known(receive_max, own_published[receiver, 1], published[:, 1]),
        _first_known(own_published[receiver, 2], published[:, 2]),
    )


def _published(values: Values, name: str) -> tuple[float, float, float]:
    known = values.application_name(name) if name else None
    if known is None:
        return np.nan, np.nan, np.nan
    found = values.application(known)
    return found.launch_max_dbm, found.receive_max_dbm, found.damage_dbm


def _first_known(*columns: Floats) -> Floats:
    out = columns[0].copy()
    for column in columns[1:]:
        out = np.where(np.isnan(out), column, out)
    return out


def path_wavelength_nm(losses: LossTable, vertex: int) -> float:
    """Wavelength [nm] that a path is told at: its channel's application's first, else the fibre's first window."""
    net = losses.net
    label = int(net.paths.label[vertex])
    channel = int(path_channel(net)[label])
    if channel >= 0:
        known = losses.values.application_name(net.ends.table("channels")["application"][channel].as_py() or "")
        if known:
            return losses.values.application(known).wavelengths_nm[0]
    on = losses.classes_on(np.array([label]))[0]
    names = [n for n, here in zip(losses.class_names, on, strict=True) if here]
    multimode = any(mode_of(n, values=losses.values) == "multimode" for n in names)
    return WINDOWS_NM["multimode" if multimode else "single-mode"][0]
