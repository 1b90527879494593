"""The loss of beams set against what their application, their length and their transceivers allow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyarrow as pa
from numpy.typing import ArrayLike

from fibrebook.losses.by_tests.in_words import columns_of_tests
from fibrebook.losses.channel_wavelengths import Power
from fibrebook.losses.elements import BASES, CATALOGUE
from fibrebook.losses.path_losses import PathLosses
from fibrebook.losses.table import LossTable
from fibrebook.records.references.columns import coded
from fibrebook.records.references.labels_as_numbers import Ints

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
FAR_DB = 1e4  # sets what is over a limit apart from what is not, where beams are put in order
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


def weigh(table: LossTable, load: Load, margin_db: float = 0.0) -> dict[str, Floats | pa.Array]:
    """Return the columns of the headroom table that do not name the beam."""
    path, n = load.path, len(load.path)
    losses = table.of_paths(path, load.outward, load.wavelength_nm)
    shares = losses.by_basis_db.copy()
    shares[:, CATALOGUE] += load.added_db
    shares[~load.complete] = np.nan
    loss_db = shares.sum(axis=1)
    length_m = np.where(load.complete, table.metres(path).sum(axis=1), np.nan)
    allowed = _allowed(table, load)
    budget_db = load.power.launch_min_dbm - load.power.receive_min_dbm - np.nan_to_num(allowed.penalty_db)
    unknown = _unknown(table, losses, load, allowed)
    words = table.not_known(path, load.wavelength_nm, losses)
    bound = _binding(loss_db, length_m, allowed, budget_db, unknown, margin_db)
    # the least the path may lose: typical fibre, and joints that lose nothing
    least_db = table.fibre_db(table.metres(path), load.wavelength_nm, grade="typical")[0]
    arriving_dbm = np.where(load.complete, load.power.launch_max_dbm - least_db, np.nan)
    too_strong_db = arriving_dbm - load.power.receive_max_dbm
    too_strong_db = np.where(too_strong_db > 0, too_strong_db, np.nan)
    return {
        "loss_db": loss_db,
        **share_columns(shares),
        "loss_by_records_db": np.where(load.complete, losses.by_records_db + load.added_db, np.nan),
        "loss_by_tests_db": np.where(load.complete, losses.by_tests_db + load.added_db, np.nan),
        **bound,
        "length_m": length_m,
        "length_max_m": allowed.length_max_m,
        "insertion_loss_max_db": allowed.insertion_loss_max_db,
        "power_budget_db": budget_db,
        "too_strong_db": too_strong_db,
        "attenuator_db": attenuator_db(too_strong_db, np.asarray(bound["headroom_db"])),
        "may_damage": pa.array(arriving_dbm > load.power.damage_dbm),
        "mismatch_db": np.where(load.complete, losses.mismatch_db, np.nan),
        "margin_db": np.full(n, margin_db),
        "source": allowed.source,
        "not_known": pa.array(words, pa.string()).dictionary_encode(),
        **columns_of_tests(table.counted, losses.tests, load.wavelength_nm),
    }


def attenuator_db(too_strong_db: Floats, headroom_db: Floats) -> Floats:
    """Return the least whole-decibel attenuator that mends too much light; NaN where none is needed or none would.

    An attenuator larger than the headroom would leave too little light when launch is at its least.
    """
    least_db = np.ceil(too_strong_db - TIE_DB)
    return np.where(least_db > headroom_db, np.nan, least_db)


def _allowed(table: LossTable, load: Load) -> Allowed:
    """Look limits up once for all applications, wavelengths and classes, then spread them by the fibres on paths."""
    names, present = table.class_names, table.classes_on(load.path)
    wavelengths, nth = np.unique(load.wavelength_nm, return_inverse=True)
    pairs, pair_of = np.unique(load.application * max(len(wavelengths), 1) + nth, return_inverse=True)
    apps = [load.names[pair // len(wavelengths)] for pair in pairs.tolist()]
    each = np.repeat(np.arange(len(apps)), len(names))
    asked = [apps[i] for i in each.tolist()], list(names) * len(apps)
    found = table.values.limits(*asked, wavelengths[pairs % max(len(wavelengths), 1)][each])
    published = table.values.powers(*asked)
    loss_db, length_m, penalty_db, launch_dbm, need_dbm = (
        np.asarray(column, np.float64).reshape(len(apps), len(names))
        for column in (*found[:3], published.launch_min_dbm, published.receive_min_dbm)
    )
    # where no penalty is published: what the standard keeps back between its own powers and its insertion loss
    # (below 0 where it reckons in modulation amplitude, as 10GBASE-SR on OM4)
    kept_db = np.nan_to_num(np.where(np.isnan(penalty_db), launch_dbm - need_dbm - loss_db, penalty_db))
    here_db = np.where(present, loss_db[pair_of], np.inf)
    strictest = np.where(np.isnan(here_db), np.inf, here_db).argmin(axis=1)
    none = np.isnan(here_db).any(axis=1) | ~present.any(axis=1)
    shortest_m = np.where(present, length_m[pair_of], np.inf).min(axis=1, initial=np.inf)
    pool: dict[str, int] = {"": 0}
    told = np.array([pool.setdefault(s, len(pool)) for s in found.source.tolist()], np.int32).reshape(loss_db.shape)
    source = np.where(none, 0, told[pair_of, strictest])
    return Allowed(
        np.where(none, np.nan, loss_db[pair_of, strictest]),
        np.where(none, np.nan, shortest_m),
        kept_db[pair_of, strictest],
        pa.DictionaryArray.from_arrays(pa.array(source), pa.array(list(pool), pa.string())),
        np.array([table.values.application_name(a) is not None for a in apps], bool)[pair_of],
        np.asarray(~none),
    )


def _unknown(table: LossTable, losses: PathLosses, load: Load, allowed: Allowed) -> Ints:
    """Why no headroom can be told, as a number into BINDINGS; -1 where it can. The weightiest reason is given."""
    why = np.full(len(load.path), -1, np.int64)
    # a test tells the loss of what has no length or no class; the limits of the application want them all the same
    no_length, no_class = (count > 0 for count in table.cores_lacking(load.path))
    reasons = [
        (losses.no_attenuation, NO_ATTENUATION),
        (allowed.known & ~allowed.specified, NOT_SPECIFIED),
        (no_class, NO_CLASS),
        (no_length, NO_LENGTH),
        (~load.complete, NOT_COMPLETE),
    ]
    for mask, words in reasons:
        why[mask] = BINDINGS.index(words)
    return why


def _binding(
    loss_db: Floats,
    length_m: Floats,
    allowed: Allowed,
    budget_db: Floats,
    unknown: Ints,
    margin_db: float,
) -> dict[str, Floats | pa.Array]:
    """The limit that binds: the smaller of insertion loss and power budget; the length where it alone is exceeded."""
    by_power = np.nan_to_num(budget_db, nan=np.inf) < np.nan_to_num(allowed.insertion_loss_max_db, nan=np.inf) - TIE_DB
    limit_db = np.where(by_power, budget_db, allowed.insertion_loss_max_db)
    left_db = limit_db - loss_db - margin_db
    over_m = length_m - allowed.length_max_m
    over_m = np.where((over_m > 0) & (unknown < 0), over_m, np.nan)
    length_binds = (over_m > 0) & ~(left_db < 0)
    words = np.where(by_power, 1, 0)
    words = np.where(length_binds, 2, np.where(np.isnan(limit_db), 3, words))
    words = np.where(unknown >= 0, unknown, words)
    left_db = np.where(unknown >= 0, np.nan, left_db)
    return {"limit_db": limit_db, "headroom_db": left_db, "over_m": over_m, "binding": coded(words, BINDINGS)}


def tightness(headroom_db: ArrayLike, over_m: ArrayLike) -> Floats:
    """Return what to order beams by, the tightest first: those over a limit, of loss or of length, before all others.

    NaN (no figure) stays NaN. It is an order, not a figure of anything.
    """
    left, over = np.asarray(headroom_db, np.float64), np.asarray(over_m, np.float64)
    return np.where((left < 0) | (over > 0), left - FAR_DB, left)


def falls_short(headroom_db: ArrayLike, over_m: ArrayLike) -> Flags:
    """Return which beams are over a limit, of loss or of length."""
    return np.asarray((np.asarray(headroom_db, np.float64) < 0) | (np.asarray(over_m, np.float64) > 0), bool)


def share_columns(shares: Floats) -> dict[str, Floats]:
    """Loss by basis, shape (n, 3), as named columns."""
    return {f"{name}_db": shares[:, i] for i, name in enumerate(BASES)}
