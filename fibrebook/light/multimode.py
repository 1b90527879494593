"""What is lost where two multimode fibres meet, all modes filled alike (the worst case; a real launch loses less)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fibrebook.errors import ValueSourceError
from fibrebook.light.possible import number, plain

SIZE = "for it is a diameter"
PESSIMISTIC = "all modes filled alike: pessimistic for a laser, which fills fewer"


def multimode_core_mismatch_db(from_um: ArrayLike, to_um: ArrayLike) -> float | np.ndarray:
    """Return the loss [dB] of going from one core diameter [um] to another; none into a larger core.

    L = -20 log10(to / from) where to < from   (Senior, ch. 5, core diameter mismatch)
    """
    a, b = number("from_um", from_um, 0, SIZE, above=True), number("to_um", to_um, 0, SIZE, above=True)
    return plain(np.maximum(20.0 * np.log10(a / b), 0.0))


def multimode_aperture_mismatch_db(from_na: ArrayLike, to_na: ArrayLike) -> float | np.ndarray:
    """Return the loss [dB] of going from one numerical aperture to another; none into a larger one.

    L = -20 log10(to / from) where to < from   (Senior, ch. 5, numerical aperture mismatch)
    """
    a = number("from_na", from_na, 0, "for light must get in", above=True)
    b = number("to_na", to_na, 0, "for light must get in", above=True)
    return plain(np.maximum(20.0 * np.log10(a / b), 0.0))


def multimode_offset_db(offset_um: ArrayLike, core_um: ArrayLike) -> float | np.ndarray:
    """Return the loss [dB] of a sideways offset [um] of two equal step-index cores of a diameter [um].

    eta = (1/pi) { 2 arccos(y / 2a) - (y/a) sqrt[1 - (y / 2a)^2] }, a = core_um / 2   (Senior, ch. 5, Ex. 5.2)
    """
    radius = number("core_um", core_um, 0, SIZE, above=True) / 2.0
    share = number("offset_um", offset_um, 0, "for it is a distance") / radius
    if np.any(share >= 2.0):
        raise ValueSourceError("offset_um is impossible: the cores do not overlap, no light passes.")
    half = share / 2.0
    eta = (2.0 * np.arccos(half) - share * np.sqrt(1.0 - half * half)) / np.pi
    return plain(np.maximum(-10.0 * np.log10(eta), 0.0))


def multimode_graded_offset_db(
    offset_um: ArrayLike, core_um: ArrayLike, profile: float = 2.0, *, leaky: bool = False
) -> float | np.ndarray:
    """Return the loss [dB] of a small sideways offset [um] of two equal graded-index cores of a diameter [um].

    eta = 1 - (2/pi) (y/a) (profile + 2) / (profile + 1), a = core_um / 2, profile 2 = parabolic (then 0.85 y/a)
    (Senior, ch. 5, Ex. 5.3, guided modes only; with leaky modes too, near the source, eta = 1 - 0.75 y/a)
    """
    radius = number("core_um", core_um, 0, SIZE, above=True) / 2.0
    share = number("offset_um", offset_um, 0, "for it is a distance") / radius
    alpha = number("profile", profile, 0, "for the index falls outwards", above=True)
    if leaky:
        if alpha != 2.0:
            raise ValueSourceError("with leaky modes the formula holds for a parabolic profile (2) only.")
        return _of_share(0.75 * share, "offset_um")
    return _of_share(2.0 / np.pi * share * (alpha + 2.0) / (alpha + 1.0), "offset_um")


def multimode_tilt_db(angle_deg: ArrayLike, aperture: ArrayLike, index: ArrayLike = 1.0) -> float | np.ndarray:
    """Return the loss [dB] of a small tilt [degrees] of two equal step-index fibres.

    eta = 1 - n theta / (pi NA), theta in radians   (Palais, Fiber Optic Communications, ch. 8)
    """
    theta = np.radians(number("angle_deg", angle_deg, 0, "for only its size counts"))
    na = number("aperture", aperture, 0, "for light must get in", above=True)
    n = number("index", index, 1.0, "for light is not faster than in a vacuum")
    return _of_share(n * theta / (np.pi * na), "angle_deg")


def multimode_gap_db(
    gap_um: ArrayLike, core_um: ArrayLike, aperture: ArrayLike, index: ArrayLike = 1.0
) -> float | np.ndarray:
    """Return the loss [dB] of a small gap [um] between two equal step-index fibres, reflections not counted.

    eta = 1 - x NA / (4 a n), a = core_um / 2   (Palais, Fiber Optic Communications, ch. 8)
    """
    gap = number("gap_um", gap_um, 0, "for it is a distance")
    radius = number("core_um", core_um, 0, SIZE, above=True) / 2.0
    na = number("aperture", aperture, 0, "for light must get in", above=True)
    n = number("index", index, 1.0, "for light is not faster than in a vacuum")
    return _of_share(gap * na / (4.0 * radius * n), "gap_um")


def _of_share(lost: np.ndarray, name: str) -> float | np.ndarray:
    if np.any(lost >= 1.0):
        raise ValueSourceError(f"{name} is beyond the formula, which holds for small misalignment only.")
    return plain(-10.0 * np.log10(1.0 - lost) + 0.0)
