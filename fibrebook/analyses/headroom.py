"""Will the light get through, with how much to spare, and what binds: every channel, wavelength and direction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.analyses.assemble import coded, network, taken
from fibrebook.analyses.weights import CATALOGUE, Weights, lengths_m, share_columns, text
from fibrebook.light.catalogue import application, application_name, limits, powers
from fibrebook.plant import Network
from fibrebook.plant.polarity import NOWHERE, VERDICTS, Ways, light_ways
from fibrebook.records import to_frame
from fibrebook.records.ends import Ints

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

Floats = npt.NDArray[np.float64]
DIRECTIONS = ("a to b", "b to a")
TIE_DB = 1e-9  # nearer than this, two limits are one
INSERTION_LOSS, POWER, LENGTH = "channel insertion loss", "power budget", "length"
# What to weigh at where the application is not known: the windows of the trade (common practice, no source).
WINDOWS_NM = {"multimode": (850.0, 1300.0), "single-mode": (1310.0, 1550.0)}


def headroom(reg: Register, site: str | None = None) -> pd.DataFrame:
    """Weigh every channel against what its application and its transceivers allow.

    Parameters
    ----------
    reg : the register
    site : label of one site, or None for all

    Returns
    -------
    DataFrame, one row a channel, direction and wavelength: site, channel, application, direction ("a to b", "b to a"),
    wavelength_nm, loss_db (worst case), measured_db, recorded_db, catalogue_db (its shares by basis), limit_db (of what
    binds), headroom_db (limit_db - loss_db; where the length binds, the metres over it as fibre loss, negative),
    binding (channel insertion loss, power budget, length, or in words why there is no figure), length_m, length_max_m,
    insertion_loss_max_db, power_budget_db, too_strong_db (by how much the light may exceed what the receiver bears),
    polarity (does transmit reach receive), source (of the limit).
    headroom_db is NaN where no figure can be given: the path is not complete, a length or fibre class is not known, or
    the application is not specified on this fibre.
    """
    return to_frame(headroom_table(network(reg, site)))


@dataclass(frozen=True)
class Beams:
    """One row a channel, direction and wavelength: rows into `ways`, the application's name, the wavelength."""

    way: Ints
    application: npt.NDArray[np.object_]
    wavelength_nm: Floats


def headroom_table(net: Network) -> pa.Table:
    """As `headroom`, as an Arrow table, from a network."""
    weights = Weights(net)
    ways = light_ways(net)
    label = net.paths.label[ways.sender]
    beams = _beams(net, weights, ways, label)
    path = label[beams.way]
    complete = ways.verdict[beams.way] != NOWHERE
    fibre_db = weights.fibre_db(path, beams.wavelength_nm)
    shares = weights.fixed_db[path].copy()
    shares[:, CATALOGUE] += np.nan_to_num(fibre_db)
    shares[~complete] = np.nan
    loss_db = shares.sum(axis=1)
    length_m = np.where(complete, weights.metres[path].sum(axis=1), np.nan)
    allowed = _allowed(weights, path, beams)
    power = _powers(net, ways, beams, allowed.penalty_db)
    # the least the path may lose: typical fibre, and joints that lose nothing
    least_db = np.nan_to_num(weights.fibre_db(path, beams.wavelength_nm, grade="typical"))
    too_strong_db = power.launch_max_dbm - least_db - power.receive_max_dbm
    table = {
        "site": taken(net.ends.table("channels")["site"], ways.channel[beams.way]),
        "channel": taken(net.ends.table("channels")["channel"], ways.channel[beams.way]),
        "application": pa.array(beams.application, pa.string()).dictionary_encode(),
        "direction": coded(ways.direction[beams.way], DIRECTIONS),
        "wavelength_nm": beams.wavelength_nm,
        "loss_db": loss_db,
        **share_columns(shares),
    }
    unknown = _unknown(weights, path, beams, complete, np.isnan(fibre_db), allowed)
    table |= _binding(loss_db, length_m, fibre_db, allowed, power.budget_db, unknown)
    table |= {
        "length_m": length_m,
        "length_max_m": allowed.length_max_m,
        "insertion_loss_max_db": allowed.insertion_loss_max_db,
        "power_budget_db": power.budget_db,
        "too_strong_db": np.where(complete & (too_strong_db > 0), too_strong_db, np.nan),
        "polarity": coded(ways.verdict[beams.way], VERDICTS),
        "source": pa.array(allowed.source, pa.string()),
    }
    return pa.table({k: v if isinstance(v, pa.Array) else pa.array(v) for k, v in table.items()})


def _beams(net: Network, weights: Weights, ways: Ways, label: Ints) -> Beams:
    """One row for each wavelength that runs each way."""
    own = text(net.ends.table("interfaces")["application"])[ways.sender - net.first_interface]
    wanted = text(net.ends.table("channels")["application"])[ways.channel]
    single = np.array([m == "single-mode" for m in _modes(weights)], bool)
    is_single = (weights.present[label] & single).any(axis=1)
    key = np.array([f"{c}\n{o}\n{int(s)}" for c, o, s in zip(wanted, own, is_single, strict=True)], dtype=object)
    kinds, kind_of = np.unique(key.astype(str), return_inverse=True)
    told = [_wavelengths(*k.split("\n")) for k in kinds.tolist()]
    count = np.array([len(w) for _, w in told], np.int64)
    way = np.repeat(np.arange(len(key)), count[kind_of]) if len(key) else np.empty(0, np.int64)
    names = np.array([n for n, _ in told], dtype=object)
    nm = [np.array(told[k][1]) for k in kind_of]
    return Beams(way, names[kind_of][way] if len(way) else names[:0], np.concatenate(nm) if nm else np.empty(0))


def _wavelengths(channel_application: str, own_application: str, single: str) -> tuple[str, tuple[float, ...]]:
    """Name and wavelengths sent: the interface's own application tells where the channel's names only the family."""
    for name in (channel_application, own_application):
        known = application_name(name)
        if known is None:
            continue
        found = application(known)
        own = application_name(own_application)
        if own and application(own).family == found.family:
            found = application(own)
        return channel_application or found.name, found.wavelengths_nm
    return channel_application or own_application, WINDOWS_NM["single-mode" if single == "1" else "multimode"]


def _modes(weights: Weights) -> list[str | None]:
    from fibrebook.reference.fibres import mode_of

    return [mode_of(n) for n in weights.class_names]


@dataclass(frozen=True)
class Allowed:
    """Limits of each beam by the strictest fibre on its path; NaN = none. `specified`: on every fibre of the path."""

    insertion_loss_max_db: Floats
    length_max_m: Floats
    penalty_db: Floats
    source: npt.NDArray[np.object_]
    known: npt.NDArray[np.bool_]  # the application is in the catalogue
    specified: npt.NDArray[np.bool_]


def _allowed(weights: Weights, path: Ints, beams: Beams) -> Allowed:
    names = weights.class_names
    pairs, pair_of = np.unique(
        np.array([f"{a}\n{w}" for a, w in zip(beams.application, beams.wavelength_nm, strict=True)], dtype=str),
        return_inverse=True,
    )
    n = len(beams.application)
    loss, length, penalty = (np.full(n, np.nan) for _ in range(3))
    source = np.full(n, "", dtype=object)
    known, specified = np.zeros(n, bool), np.zeros(n, bool)
    present = weights.present[path]
    for i, pair in enumerate(pairs.tolist()):
        at = np.flatnonzero(pair_of == i)
        app, wavelength = pair.split("\n")
        known[at] = application_name(app) is not None
        found = limits([app] * len(names), names, np.full(len(names), float(wavelength)))
        here = present[at]
        table_db = np.where(here, found.insertion_loss_max_db, np.inf)
        strictest = np.where(np.isnan(table_db), np.inf, table_db).argmin(axis=1)
        none = np.isnan(table_db).any(axis=1) | ~here.any(axis=1)
        specified[at] = ~none
        loss[at] = np.where(none, np.nan, found.insertion_loss_max_db[strictest])
        length[at] = np.where(none, np.nan, np.where(here, found.length_max_m, np.inf).min(axis=1, initial=np.inf))
        # where no penalty is published: what the standard keeps back between its own powers and its insertion loss
        # (below 0 where it reckons in modulation amplitude, as 10GBASE-SR on OM4)
        published = powers([app] * len(names), names)
        kept_db = published.launch_min_dbm - published.receive_min_dbm - found.insertion_loss_max_db
        penalty_db = np.where(np.isnan(found.penalty_db), kept_db, found.penalty_db)
        penalty[at] = np.nan_to_num(penalty_db[strictest])
        source[at] = np.where(none, "", found.source[strictest])
    return Allowed(loss, length, penalty, source, known, specified)


@dataclass(frozen=True)
class Power:
    """Transceiver powers of each beam; NaN where not known."""

    budget_db: Floats
    launch_max_dbm: Floats
    receive_max_dbm: Floats


def _powers(net: Network, ways: Ways, beams: Beams, penalty_db: Floats) -> Power:
    """Power budget from the interfaces' own figures; for too much light the application's published ones also serve."""
    faces = net.ends.table("interfaces")
    first = net.first_interface
    sender = (ways.sender - first)[beams.way]
    arrives = net.is_interface(ways.far)
    receiver = np.where(arrives, ways.far - first, 0)[beams.way]
    launch_min, launch_max = (lengths_m(faces[c])[sender] for c in ("launch_min_dbm", "launch_max_dbm"))
    receive_min, receive_max = (lengths_m(faces[c])[receiver] for c in ("receive_min_dbm", "receive_max_dbm"))
    published_launch, published_receive = _published(beams.application)
    own = text(faces["application"])
    own_launch, own_receive = _published(own)
    launch_max = _first_known(launch_max, own_launch[sender], published_launch)
    receive_max = _first_known(receive_max, own_receive[receiver], published_receive)
    return Power(launch_min - receive_min - np.nan_to_num(penalty_db), launch_max, receive_max)


def _published(names: npt.NDArray[np.object_]) -> tuple[Floats, Floats]:
    values = {n: _published_one(n) for n in set(names.tolist())}
    pairs = np.array([values[n] for n in names.tolist()], float).reshape(-1, 2)
    return pairs[:, 0], pairs[:, 1]


def _published_one(name: str) -> tuple[float, float]:
    known = application_name(name) if name else None
    if known is None:
        return np.nan, np.nan
    found = application(known)
    return found.launch_max_dbm, found.receive_max_dbm


def _first_known(*columns: Floats) -> Floats:
    out = columns[0].copy()
    for column in columns[1:]:
        out = np.where(np.isnan(out), column, out)
    return out


def _unknown(
    weights: Weights,
    path: Ints,
    beams: Beams,
    complete: npt.NDArray[np.bool_],
    no_figure: npt.NDArray[np.bool_],
    allowed: Allowed,
) -> npt.NDArray[np.object_]:
    """Why no headroom can be told, in words; "" where it can. The first reason that holds is given."""
    why = np.full(len(path), "", dtype=object)
    fibre_unknown = weights.present[path][:, 0]
    reasons = [
        (allowed.known & ~allowed.specified, "not specified on this fibre"),
        (no_figure, "no attenuation known for this fibre at this wavelength"),
        (fibre_unknown, "fibre class not known"),
        (weights.length_unknown[path], "length not known"),
        (~complete, "path not complete"),
    ]
    for mask, words in reasons:
        why[mask] = words
    return why


def _binding(
    loss_db: Floats,
    length_m: Floats,
    fibre_db: Floats,
    allowed: Allowed,
    budget_db: Floats,
    unknown: npt.NDArray[np.object_],
) -> dict[str, Floats | pa.Array]:
    """The limit that binds: the smaller of insertion loss and power budget, or the length where it is exceeded."""
    by_power = np.nan_to_num(budget_db, nan=np.inf) < np.nan_to_num(allowed.insertion_loss_max_db, nan=np.inf) - TIE_DB
    limit_db = np.where(by_power, budget_db, allowed.insertion_loss_max_db)
    words = np.where(by_power, POWER, INSERTION_LOSS).astype(object)
    left_db = limit_db - loss_db
    over_m = length_m - allowed.length_max_m
    with np.errstate(invalid="ignore", divide="ignore"):
        over_db = -over_m * np.where(length_m > 0, fibre_db / length_m, 0.0)
    too_long = over_m > 0
    length_binds = too_long & ~(left_db < over_db)
    left_db = np.where(length_binds, over_db, left_db)
    words[length_binds] = LENGTH
    words[np.isnan(limit_db) & ~length_binds] = "no limit known"
    told = unknown != ""
    words[told] = unknown[told]
    left_db = np.where(told, np.nan, left_db)
    return {"limit_db": limit_db, "headroom_db": left_db, "binding": pa.array(words, pa.string())}
