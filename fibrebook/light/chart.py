"""Control chart of single values and their moving range (ISO 7870-2; Montgomery, Statistical Quality Control)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from fibrebook.light.checks import number

Floats = npt.NDArray[np.float64]


class Chart(NamedTuple):
    """Individuals and moving range; limits NaN where there are fewer than two values."""

    moving_range: Floats  # the first is NaN
    centre: float
    lower: float
    upper: float
    range_centre: float
    range_upper: float


def individuals_chart(values: ArrayLike, factor: float, range_factor: float) -> Chart:
    """Return the chart of values in the order in which they came.

    limits = mean +- factor x mean moving range (factor 3 / d2 = 2.66 for pairs); range limit = range_factor x mean
    moving range (D4 = 3.267 for pairs).
    """
    x = number("values", values)
    moving = np.concatenate([[np.nan], np.abs(np.diff(x))])[: len(x)]
    centre = float(x.mean()) if len(x) else float("nan")
    mean_range = float(moving[1:].mean()) if len(x) > 1 else float("nan")
    spread = factor * mean_range
    return Chart(moving, centre, centre - spread, centre + spread, mean_range, range_factor * mean_range)
