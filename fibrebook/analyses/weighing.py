"""The loss of beams set against what their application, their length and their transceivers allow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.analyses.assemble import coded
from fibrebook.analyses.beams import Power
from fibrebook.analyses.weights import CATALOGUE, Weights, share_columns
from fibrebook.light.catalogue import application_name, limits, powers
from fibrebook.records.ends import Ints

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
TIE_DB = 1e-9  # nearer than this, two limits are one
INSERTION_LOSS, POWER, LENGTH = "channel insertion loss", "power budget", "length"
NOT_COMPLETE, NO_LENGTH, NO_CLASS = "path not complete", "length not known", "fibre class not known"
NO_ATTENUATION = "no attenuation known for this fibre at this wavelength"
NOT_SPECIFIED, NO_LIMIT = "not specified on this fibre", "no limit known"
BINDINGS = (
    INSERTION_LOSS, POWER, LENGTH, NO_LIMIT, NOT_SPECIFIED, NO_ATTENUATION, NO_CLASS, NO_LENGTH, NOT_COMPLETE,
)  # fmt: skip


@dataclass(frozen=True)
class Load:
    """Beams on paths: one row each.

    path : label of the path; outward : whether the light goes away from the vertex that is the label; application : a
    number into names; complete : whether the light arrives; added_db : loss of what is not there yet
    """

    path: Ints
    outward: Flags
    application: Ints
    names: list[str]
    wavelength_nm: Floats
    power: Power
    complete: Flags
    added_db: Floats


@dataclass(frozen=True)
class Allowed:
    """Limits of each beam by the strictest fibre on its path; NaN = none. `specified`: on every fibre of the path."""

    insertion_loss_max_db: Floats
    length_max_m: Floats
    penalty_db: Floats
    source: pa.Array
    known: Flags  # the application is in the catalogue
    specified: Flags


def weigh(weights: Weights, load: Load, margin_db: float = 0.0) -> dict[str, Floats | pa.Array]:
    """Return the columns of the headroom table that do not name the beam."""
    path, n = load.path, len(load.path)
    fibre_db = weights.fibre_db(path, load.wavelength_nm)
    mismatch_db = weights.mismatch_db(path, load.outward)
    shares = weights.fixed_db[path].copy()
    shares[:, CATALOGUE] += np.nan_to_num(fibre_db) + load.added_db + mismatch_db
    shares[~load.complete] = np.nan
    loss_db = shares.sum(axis=1)
    length_m = np.where(load.complete, weights.metres[path].sum(axis=1), np.nan)
    allowed = _allowed(weights, load)
    budget_db = load.power.launch_min_dbm - load.power.receive_min_dbm - np.nan_to_num(allowed.penalty_db)
    unknown = _unknown(weights, load, np.isnan(fibre_db), allowed)
    bound = _binding(loss_db, length_m, fibre_db, allowed, budget_db, unknown, margin_db)
    # the least the path may lose: typical fibre, and joints that lose nothing
    least_db = np.nan_to_num(weights.fibre_db(path, load.wavelength_nm, grade="typical"))
    arriving_dbm = np.where(load.complete, load.power.launch_max_dbm - least_db, np.nan)
    too_strong_db = arriving_dbm - load.power.receive_max_dbm
    too_strong_db = np.where(too_strong_db > 0, too_strong_db, np.nan)
    return {
        "loss_db": loss_db,
        **share_columns(shares),
        **bound,
        "length_m": length_m,
        "length_max_m": allowed.length_max_m,
        "insertion_loss_max_db": allowed.insertion_loss_max_db,
        "power_budget_db": budget_db,
        "too_strong_db": too_strong_db,
        "attenuator_db": attenuator_db(too_strong_db, np.asarray(bound["headroom_db"])),
        "may_damage": pa.array(arriving_dbm > load.power.damage_dbm),
        "mismatch_db": np.where(load.complete, mismatch_db, np.nan),
        "margin_db": np.full(n, margin_db),
        "source": allowed.source,
    }


def attenuator_db(too_strong_db: Floats, headroom_db: Floats) -> Floats:
    """Return the least whole-decibel attenuator that mends too much light; NaN where none is needed or none would.

    An attenuator larger than the headroom would leave too little light when launch is at its least.
    """
    least_db = np.ceil(too_strong_db - TIE_DB)
    return np.where(least_db > headroom_db, np.nan, least_db)


def _allowed(weights: Weights, load: Load) -> Allowed:
    """Look limits up once for each application and wavelength, then spread them by the fibres on each path."""
    names, n = weights.class_names, len(load.path)
    wavelengths, nth = np.unique(load.wavelength_nm, return_inverse=True)
    pairs, pair_of = np.unique(load.application * max(len(wavelengths), 1) + nth, return_inverse=True)
    loss, length, penalty = (np.full(n, np.nan) for _ in range(3))
    source, pool = np.zeros(n, np.int32), {"": 0}
    known, specified = np.zeros(n, bool), np.zeros(n, bool)
    present = weights.present[load.path]
    for i, pair in enumerate(pairs.tolist()):
        at = np.flatnonzero(pair_of == i)
        app, wavelength = load.names[pair // len(wavelengths)], wavelengths[pair % len(wavelengths)]
        known[at] = application_name(app) is not None
        found = limits([app] * len(names), names, np.full(len(names), wavelength))
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
        told = np.array([pool.setdefault(s, len(pool)) for s in found.source], np.int32)
        source[at] = np.where(none, 0, told[strictest])
    texts = pa.DictionaryArray.from_arrays(pa.array(source), pa.array(list(pool), pa.string()))
    return Allowed(loss, length, penalty, texts, known, specified)


def _unknown(weights: Weights, load: Load, no_figure: Flags, allowed: Allowed) -> Ints:
    """Why no headroom can be told, as a number into BINDINGS; -1 where it can. The weightiest reason is given."""
    why = np.full(len(load.path), -1, np.int64)
    reasons = [
        (no_figure, NO_ATTENUATION),
        (allowed.known & ~allowed.specified, NOT_SPECIFIED),
        (weights.present[load.path][:, 0], NO_CLASS),
        (weights.length_unknown[load.path], NO_LENGTH),
        (~load.complete, NOT_COMPLETE),
    ]
    for mask, words in reasons:
        why[mask] = BINDINGS.index(words)
    return why


def _binding(
    loss_db: Floats,
    length_m: Floats,
    fibre_db: Floats,
    allowed: Allowed,
    budget_db: Floats,
    unknown: Ints,
    margin_db: float,
) -> dict[str, Floats | pa.Array]:
    """The limit that binds: the smaller of insertion loss and power budget, or the length where it is exceeded."""
    by_power = np.nan_to_num(budget_db, nan=np.inf) < np.nan_to_num(allowed.insertion_loss_max_db, nan=np.inf) - TIE_DB
    limit_db = np.where(by_power, budget_db, allowed.insertion_loss_max_db)
    left_db = limit_db - loss_db - margin_db
    over_m = length_m - allowed.length_max_m
    with np.errstate(invalid="ignore", divide="ignore"):
        over_db = -over_m * np.where(length_m > 0, fibre_db / length_m, 0.0)
    length_binds = (over_m > 0) & ~(left_db < over_db)
    left_db = np.where(length_binds, over_db, left_db)
    words = np.where(by_power, 1, 0)
    words = np.where(length_binds, 2, np.where(np.isnan(limit_db), 3, words))
    words = np.where(unknown >= 0, unknown, words)
    left_db = np.where(unknown >= 0, np.nan, left_db)
    return {"limit_db": limit_db, "headroom_db": left_db, "binding": coded(words, BINDINGS)}
