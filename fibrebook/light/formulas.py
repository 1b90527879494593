"""The plain formulas: loss and power budgets, and what single-mode fibres lose where they meet.

mode_field_um is always the mode-field DIAMETER; w = diameter / 2 is the radius at which the field has fallen to 1/e.
Beware of texts with a spot size smaller by the root of 2: their offset loss reads 2.17 (d/w)^2.
All functions take scalars or arrays that broadcast; scalars in give a float; NaN (not known) passes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fibrebook.errors import ValueSourceError
from fibrebook.light.possible import number, plain

PASSIVE = "for nothing passive gives light (average the two directions of an OTDR reading)"
ADDED = "for it is taken from the budget"
SIZE = "for it is a diameter"
DB_PER_NEPER = 10.0 / np.log(10.0)  # 4.343: decibels of a power ratio e


def loss_db(
    length_m: ArrayLike,
    attenuation_db_per_km: ArrayLike,
    connections_db: ArrayLike = (),
    splices_db: ArrayLike = (),
    other_db: ArrayLike = (),
) -> float | np.ndarray:
    """Return the attenuation of a path [dB].

    L = l a + sum(connections) + sum(splices) + sum(other)
    (Senior, Optical Fiber Communications, ch. 12, total channel loss; IEC 61280-4-1/-4-2 in the same form.)

    Parameters
    ----------
    length_m, attenuation_db_per_km : fibre length [m] and attenuation [dB/km], scalars or arrays that broadcast.
    connections_db, splices_db, other_db : the single losses [dB]; the last axis is summed, so a list of three serves
        every path and an array of shape (paths, most) serves each path its own; a scalar is one loss.

    Raises ValueSourceError for a negative or infinite value; NaN passes.
    """
    length = number("length_m", length_m, 0, "for a length has no sign")
    attenuation = number("attenuation_db_per_km", attenuation_db_per_km, 0, "for nothing passive gives light")
    extra = sum(
        np.atleast_1d(number(name, given, 0, PASSIVE)).sum(axis=-1)
        for name, given in (("connections_db", connections_db), ("splices_db", splices_db), ("other_db", other_db))
    )
    return plain(length / 1000.0 * attenuation + extra)


def headroom_db(
    launch_dbm: ArrayLike,
    receive_min_dbm: ArrayLike,
    loss_db: ArrayLike,
    margin_db: ArrayLike = 0.0,
    penalty_db: ArrayLike = 0.0,
) -> float | np.ndarray:
    """Return what is left of the power budget [dB]; negative = the light does not get through.

    H = P_launch - P_receive,min - L - margin - penalty   (Senior, ch. 12, optical power budget; ITU-T G.957 in form)

    Parameters
    ----------
    launch_dbm, receive_min_dbm : least launched power and least power that the receiver needs [dBm].
    loss_db : loss of the path [dB]; margin_db : kept for repair and ageing; penalty_db : dispersion, noise.

    Raises ValueSourceError for a negative loss, margin or penalty, or an infinite value; NaN passes.
    """
    launch, receive = number("launch_dbm", launch_dbm), number("receive_min_dbm", receive_min_dbm)
    spent = (
        number("loss_db", loss_db, 0, PASSIVE)
        + number("margin_db", margin_db, 0, ADDED)
        + number("penalty_db", penalty_db, 0, ADDED)
    )
    return plain(launch - receive - spent)


def reach_m(
    launch_dbm: ArrayLike,
    receive_min_dbm: ArrayLike,
    loss_per_km_db: ArrayLike,
    fixed_loss_db: ArrayLike = 0.0,
    margin_db: ArrayLike = 0.0,
    penalty_db: ArrayLike = 0.0,
) -> float | np.ndarray:
    """Return the length at which the headroom is nothing [m]; 0 where the fixed losses alone use up the budget.

    l = 1000 (P_launch - P_receive,min - fixed - margin - penalty) / (loss per km)   (Senior, ch. 12, Ex. 12.8)

    Parameters
    ----------
    launch_dbm, receive_min_dbm : [dBm]. loss_per_km_db : fibre with its regular splices [dB/km].
    fixed_loss_db : connections and all that does not grow with length [dB]; margin_db, penalty_db as in `headroom_db`.

    Raises ValueSourceError for a loss per km that is not above 0, a negative fixed loss, margin or penalty; NaN passes.
    """
    per_km = number("loss_per_km_db", loss_per_km_db, 0, "for a fibre without loss has no farthest point", above=True)
    left = headroom_db(launch_dbm, receive_min_dbm, fixed_loss_db, margin_db, penalty_db)
    return plain(np.maximum(left, 0.0) / per_km * 1000.0)


def mode_field_mismatch_db(a_um: ArrayLike, b_um: ArrayLike) -> float | np.ndarray:
    """Return the loss [dB] of two mode-field diameters [um] that differ; the same in both directions.

    L = -20 log10[ 2 a b / (a^2 + b^2) ]   (D. Marcuse, Bell System Technical Journal 56, 703 (1977))
    """
    a, b = number("a_um", a_um, 0, SIZE, above=True), number("b_um", b_um, 0, SIZE, above=True)
    return plain(np.maximum(-20.0 * np.log10(2.0 * a * b / (a * a + b * b)), 0.0))  # rounding may reach -1e-16


def offset_db(offset_um: ArrayLike, mode_field_um: ArrayLike) -> float | np.ndarray:
    """Return the loss [dB] of a sideways offset [um] of two equal fibres.

    L = 4.343 (d / w)^2, w = mode_field_um / 2   (Marcuse 1977; Ghatak and Thyagarajan, Introduction to Fiber Optics)
    """
    offset = number("offset_um", offset_um, 0, "for it is a distance")
    w = number("mode_field_um", mode_field_um, 0, SIZE, above=True) / 2.0
    return plain(DB_PER_NEPER * (offset / w) ** 2)


def tilt_db(
    angle_deg: ArrayLike, mode_field_um: ArrayLike, index: ArrayLike, wavelength_nm: ArrayLike
) -> float | np.ndarray:
    """Return the loss [dB] of a small tilt [degrees] between two equal fibres.

    L = 4.343 (pi n w theta / lambda)^2, w = mode_field_um / 2, theta in radians
    (Marcuse 1977; Ghatak and Thyagarajan). index is that of the medium between the ends; the angle must be small.
    """
    theta = np.radians(_angle(angle_deg))
    w = number("mode_field_um", mode_field_um, 0, SIZE, above=True) / 2.0
    n = _index("index", index)
    wavelength_um = _wavelength(wavelength_nm) / 1000.0
    return plain(DB_PER_NEPER * (np.pi * n * w * theta / wavelength_um) ** 2)


def gap_db(
    gap_um: ArrayLike, mode_field_um: ArrayLike, index: ArrayLike, wavelength_nm: ArrayLike
) -> float | np.ndarray:
    """Return the loss [dB] of a gap [um] between two equal fibres, reflections not counted.

    L = 10 log10(1 + Z^2), Z = z lambda / (2 pi n w^2)   (Marcuse 1977; Ghatak and Thyagarajan)
    """
    gap = number("gap_um", gap_um, 0, "for it is a distance")
    w = number("mode_field_um", mode_field_um, 0, SIZE, above=True) / 2.0
    z = gap * _wavelength(wavelength_nm) / 1000.0 / (2.0 * np.pi * _index("index", index) * w * w)
    return plain(10.0 * np.log10(1.0 + z * z))


def joint_db(
    a_um: ArrayLike,
    b_um: ArrayLike,
    offset_um: ArrayLike = 0.0,
    angle_deg: ArrayLike = 0.0,
    index: ArrayLike = 1.0,
    wavelength_nm: ArrayLike = 1310.0,
) -> float | np.ndarray:
    """Return the loss [dB] of mismatch, offset and tilt together.

    L = -10 log10{ 4 w1^2 w2^2 / (w1^2 + w2^2)^2 exp[ -(4 d^2 + (k n w1 w2 theta)^2) / (2 (w1^2 + w2^2)) ] }
    with k = 2 pi / lambda   (Marcuse 1977; sin theta taken as theta)
    """
    w1 = number("a_um", a_um, 0, SIZE, above=True) / 2.0
    w2 = number("b_um", b_um, 0, SIZE, above=True) / 2.0
    offset = number("offset_um", offset_um, 0, "for it is a distance")
    k_n = 2.0 * np.pi * _index("index", index) / (_wavelength(wavelength_nm) / 1000.0)
    bent = 4.0 * offset**2 + (k_n * w1 * w2 * np.radians(_angle(angle_deg))) ** 2
    return plain(mode_field_mismatch_db(a_um, b_um) + DB_PER_NEPER * bent / (2.0 * (w1 * w1 + w2 * w2)))


def fresnel_db(index_a: ArrayLike, index_b: ArrayLike) -> float | np.ndarray:
    """Return the loss [dB] by reflection at one face between two media; an air gap has two faces.

    L = -10 log10(1 - r), r = ((n_a - n_b) / (n_a + n_b))^2   (Senior, ch. 5, Ex. 5.1; Fresnel at normal incidence)
    """
    return plain(-10.0 * np.log10(1.0 - _reflected(index_a, index_b)) + 0.0)  # + 0: no minus zero


def reflectance_db(index_a: ArrayLike, index_b: ArrayLike) -> float | np.ndarray:
    """Return the reflectance [dB, negative] of one face; return loss is its negative. Equal indices: -inf.

    R = 10 log10 r, r as in `fresnel_db`.
    """
    with np.errstate(divide="ignore"):
        return plain(10.0 * np.log10(_reflected(index_a, index_b)))


def mode_field_of_core_um(core_um: ArrayLike, aperture: ArrayLike, wavelength_nm: ArrayLike) -> float | np.ndarray:
    """Return the mode-field diameter [um] of a step-index core of a diameter [um] and numerical aperture.

    w / a = 0.65 + 1.619 V^-1.5 + 2.879 V^-6, V = 2 pi a NA / lambda   (Marcuse 1977)
    Good for V from 1.2 to 2.405 (single mode); outside, an error.
    """
    radius = number("core_um", core_um, 0, SIZE, above=True) / 2.0
    na = number("aperture", aperture, 0, "for light must get in", above=True)
    v = 2.0 * np.pi * radius * na / (_wavelength(wavelength_nm) / 1000.0)
    outside = (v < 1.2) | (v > 2.405)
    if np.any(outside):
        first = np.atleast_1d(v)[np.atleast_1d(outside)][0]
        raise ValueSourceError(f"V = {first:.3f}: Marcuse's formula holds from 1.2 to 2.405 (single mode) only.")
    return plain(2.0 * radius * (0.65 + 1.619 * v**-1.5 + 2.879 * v**-6.0))


def _reflected(index_a: ArrayLike, index_b: ArrayLike) -> np.ndarray:
    a, b = _index("index_a", index_a), _index("index_b", index_b)
    return np.asarray(((a - b) / (a + b)) ** 2)


def _angle(angle_deg: ArrayLike) -> np.ndarray:
    angle = number("angle_deg", angle_deg, 0, "for only its size counts")
    if np.any(angle >= 90.0):
        raise ValueSourceError(f"angle_deg = {np.nanmax(angle):g} is impossible: the ends would not face each other.")
    return angle


def _index(name: str, index: ArrayLike) -> np.ndarray:
    return number(name, index, 1.0, "for light is not faster than in a vacuum")


def _wavelength(wavelength_nm: ArrayLike) -> np.ndarray:
    return number("wavelength_nm", wavelength_nm, 0, "for it is a length", above=True)
