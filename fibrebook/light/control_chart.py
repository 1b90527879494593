"""Control chart of single values and their moving range (ISO 7870-2; Montgomery, Statistical Quality Control)."""

from __future__ import annotations

from typing import Any, Generic, NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from fibrebook.light.possible import number

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Limit = TypeVar("Limit")


# A loss is outside a limit when it is so by more than the rounding of sums: like values would be outside themselves.
ROUNDING = 1e-9


class Chart(NamedTuple, Generic[Limit]):
    """Individuals and moving range; limits NaN where there are fewer than two values.

    Of one group each limit is a number; of several groups it is an array, a limit for each value.
    """

    moving_range: Floats  # the first of a group is NaN
    centre: Limit
    lower: Limit
    upper: Limit
    range_centre: Limit
    range_upper: Limit


def individuals_chart(values: ArrayLike, factor: float, range_factor: float) -> Chart[float]:
    """Return the chart of values in the order in which they came.

    limits = mean +- factor x mean moving range (factor 3 / d2 = 2.66 for pairs); range limit = range_factor x mean
    moving range (D4 = 3.267 for pairs).
    """
    x = number("values", values)
    if not len(x):
        return Chart(x, *[float("nan")] * 5)
    many = individuals_charts(x, np.zeros(len(x), np.int64), factor, range_factor)
    return Chart(many.moving_range, *(float(limit[0]) for limit in many[1:]))


def individuals_charts(values: ArrayLike, group: Ints, factor: float, range_factor: float) -> Chart[Floats]:
    """Return the charts of several groups at once; the values of a group stand together, groups numbered from 0.

    Shapes: values, group and every array of the result (values,).
    """
    x = number("values", values)
    follows = np.append(False, group[1:] == group[:-1])[: len(x)]
    moving = np.where(follows, np.abs(np.diff(x, prepend=np.nan)[: len(x)]), np.nan)
    count = np.bincount(group)
    with np.errstate(invalid="ignore"):  # one value alone has no moving range
        range_centre = np.bincount(group, np.where(follows, moving, 0.0)) / np.where(count > 1, count - 1, np.nan)
    centre = np.bincount(group, x) / count
    limits = (centre, centre - factor * range_centre, centre + factor * range_centre)
    return Chart(moving, *(v[group] for v in (*limits, range_centre, range_factor * range_centre)))


def outside(values: ArrayLike, chart: Chart[Any]) -> npt.NDArray[np.bool_]:
    """Tell which values lie outside their limits, themselves or by their moving range."""
    x = np.asarray(values, float)
    beyond = (x > chart.upper + ROUNDING) | (x < chart.lower - ROUNDING)
    return np.asarray(beyond | (chart.moving_range > chart.range_upper + ROUNDING))
