"""Loss as chance: means and deviations of elements, their sum by moments, and the same by drawing lots.

Each element's loss is taken as gamma-distributed (never below nothing, skewed upwards, as offsets make it); a mean of
nothing or below (a gainer's reading) as normal. Elements are independent, so means, variances and third moments add.
"""

from __future__ import annotations

from statistics import NormalDist
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from fibrebook.light.checks import number

Floats = npt.NDArray[np.float64]
SHARES = {"97_7": NormalDist().cdf(2.0), "99_9": 0.999}  # 97.7 % is two deviations above a normal mean


class Moments(NamedTuple):
    """Mean [dB], variance [dB^2] and third central moment [dB^3] of losses."""

    mean_db: Floats
    variance: Floats
    third: Floats


def deviation_db(mean_db: ArrayLike, point_db: ArrayLike, share: float) -> Floats:
    """Return the deviation [dB] of a loss of which a share (0.97) lies at or below a point.

    sigma = (point - mean) / z(share), z the quantile of the normal distribution; 0 where the point is not above it.
    """
    above = number("point_db", point_db) - number("mean_db", mean_db)
    return np.maximum(above, 0.0) / NormalDist().inv_cdf(share)


def moments(mean_db: ArrayLike, deviation: ArrayLike) -> Moments:
    """Return the moments of losses of a mean and deviation [dB]: gamma, third moment 2 sigma^4 / mean."""
    mean = np.asarray(mean_db, np.float64)
    sigma = number("deviation", deviation, 0, "for it is a spread")
    with np.errstate(invalid="ignore", divide="ignore"):
        third = np.where(mean > 0, 2.0 * sigma**4 / mean, 0.0)
    return Moments(mean, sigma**2, third)


def point_db(sums: Moments, share: float) -> Floats:
    """Return the loss [dB] that a share of all cases does not exceed, from summed moments.

    Pearson type III with the same three moments: K = (2/g) {[1 + g z/6 - (g/6)^2]^3 - 1}, g the skewness
    (Wilson and Hilferty, Proc. Natl. Acad. Sci. 17, 684 (1931)); as g goes to 0, K = z.
    """
    z = NormalDist().inv_cdf(share)
    sigma = np.sqrt(sums.variance)
    with np.errstate(invalid="ignore", divide="ignore"):
        g = np.where(sigma > 0, sums.third / sigma**3, 0.0)
        k = np.where(np.abs(g) > 1e-6, 2.0 / g * ((1.0 + g * z / 6.0 - (g / 6.0) ** 2) ** 3 - 1.0), z)
    return np.asarray(sums.mean_db + k * sigma)


def draw_sum_db(mean_db: ArrayLike, deviation: ArrayLike, trials: int, seed: int) -> Floats:
    """Return the summed loss [dB] of elements in each of `trials` draws; the same seed gives the same draws."""
    mean, sigma = np.atleast_1d(np.asarray(mean_db, np.float64)), np.atleast_1d(np.asarray(deviation, np.float64))
    lots = np.random.default_rng(seed)
    total = np.zeros(trials)
    for m, s in zip(mean.tolist(), sigma.tolist(), strict=True):
        if s == 0:
            total += m
        elif m > 0:
            total += lots.gamma((m / s) ** 2, s * s / m, trials)
        else:
            total += lots.normal(m, s, trials)
    return total
