"""Distance by time of flight: what an OTDR tells, and how the index it was set to shifts it."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from fibrebook.light.possible import number, plain
from fibrebook.reference.choices import Choice, pick, preference
from fibrebook.reference.fibres import counts_as
from fibrebook.reference.firm import PUBLISHED, FirmValues
from fibrebook.reference.tables import cached_by_values, rows

C_M_PER_S = 299_792_458.0  # speed of light in vacuum, exact (SI)
WINDOW_NM = 60.0  # a published index serves wavelengths this near; common practice, no source
INDEX = "for light is not faster than in a vacuum"


def distance_m(round_trip_s: ArrayLike, index: ArrayLike) -> float | np.ndarray:
    """Return the length of fibre [m] behind an echo after a time [s].

    l = c t / (2 n), n the group index
    """
    return plain(C_M_PER_S * number("round_trip_s", round_trip_s, 0) / (2.0 * number("index", index, 1.0, INDEX)))


def corrected_distance_m(distance: ArrayLike, index_set: ArrayLike, index: ArrayLike) -> float | np.ndarray:
    """Return the distance [m] read with one group index as it would read with another.

    l' = l n_set / n: raising the index lowers the length, in proportion
    """
    there = number("distance", distance, 0, "for it is a distance")
    return plain(there * number("index_set", index_set, 1.0, INDEX) / number("index", index, 1.0, INDEX))


def group_index(
    fibre_class: str, wavelength_nm: float, choice: Choice = None, *, values: FirmValues = PUBLISHED
) -> float:
    """Return the published group index of a class at a wavelength; NaN where there is none near it."""
    return _group_index(fibre_class or "", float(wavelength_nm), preference(choice, values=values), values=values)


@cached_by_values
def _group_index(fibre_class: str, wavelength_nm: float, wanted: tuple[str, ...], *, values: FirmValues) -> float:
    for name in counts_as(fibre_class, values=values):
        near: dict[float, list[dict[str, Any]]] = {}
        for row in rows("group_index", values=values):
            if row["fibre_class"] == name and abs(row["wavelength_nm"] - wavelength_nm) <= WINDOW_NM:
                near.setdefault(row["wavelength_nm"], []).append(row)
        for at in sorted(near, key=lambda nm: abs(nm - wavelength_nm)):
            winner = pick(near[at], wanted)
            if winner is not None:
                return float(winner["group_index"])
    return float("nan")
