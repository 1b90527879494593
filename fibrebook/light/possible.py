"""Values that cannot be, named before they spoil a result; NaN (not known) passes through every formula."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fibrebook.errors import ValueSourceError


def number(name: str, value: ArrayLike, least: float = -np.inf, why: str = "", *, above: bool = False) -> np.ndarray:
    """Return value as a float array; finite (or NaN) and at least `least` (`above`: more than), else an error.

    Raises ValueSourceError naming the value, what it must be, and why.
    """
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise ValueSourceError(f"{name} = {value!r} is not a number.") from None
    impossible = np.isinf(array) | (array <= least if above else array < least)
    if impossible.any():
        first = array[impossible].flat[0]
        bound = "finite" if np.isinf(first) else f"{'more than' if above else 'at least'} {least:g}"
        raise ValueSourceError(f"{name} = {first:g} is impossible: it must be {bound}{why and ', ' + why}.")
    return array


def plain(result: ArrayLike) -> float | np.ndarray:
    """Return a float where everything that went in was a scalar, else the array."""
    return float(result) if np.ndim(result) == 0 else np.asarray(result)  # type: ignore[arg-type]
