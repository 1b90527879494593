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

from fibrebook.light.possible import number

Floats = npt.NDArray[np.float64]
SHARES = {"97_7": NormalDist().cdf(2.0), "99_9": 0.999}  # 97.7 % is two deviations above a normal mean


class Moments(NamedTuple):
    """Mean [dB], variance [dB^2] and third central moment [dB^3] of losses."""

    mean_db: Floats
    variance: Floats
    third: Floats


ALMOST_NORMAL = 1e7  # shape above which a gamma's quantile is the normal one to 1e-4 of its deviation


def deviation_db(mean_db: ArrayLike, point_db: ArrayLike, share: float) -> Floats:
    """Return the deviation [dB] of a loss of which a share (0.97) lies at or below a point.

    The gamma distribution of that mean has its own quantile of the share at the point: its shape k solves
    P^-1(k, share) / k = point / mean, P the regularised incomplete gamma function, and sigma = mean / sqrt(k). 0 where
    the point is not above the mean. A point beyond an exponential's (k = 1: 3.5 x the mean at 97 %) is not met: k = 1.
    A mean of nothing or below is taken as normal: sigma = (point - mean) / z(share).
    """
    from scipy.special import gammaincinv

    mean, point = np.broadcast_arrays(number("mean_db", mean_db), number("point_db", point_db))
    above, skewed = point > mean, (mean > 0) & (point > mean)
    ratio = np.where(skewed, point / np.where(skewed, mean, 1.0), 2.0)
    low, high = np.zeros(ratio.shape), np.full(ratio.shape, np.log(ALMOST_NORMAL))
    for _ in range(60):  # the quantile of a mean of 1 falls as the shape grows from 1
        middle = (low + high) / 2.0
        beyond = gammaincinv(np.exp(middle), share) / np.exp(middle) > ratio
        low, high = np.where(beyond, middle, low), np.where(beyond, high, middle)
    normal = np.where(above, (point - mean) / NormalDist().inv_cdf(share), 0.0)
    return np.where(skewed, mean / np.exp(low / 2.0), normal)


def moments(mean_db: ArrayLike, deviation: ArrayLike) -> Moments:
    """Return the moments of losses of a mean and deviation [dB]: gamma, third moment 2 sigma^4 / mean."""
    mean = np.asarray(mean_db, np.float64)
    sigma = number("deviation", deviation, 0, "for it is a spread")
    with np.errstate(invalid="ignore", divide="ignore"):
        third = np.where(mean > 0, 2.0 * sigma**4 / mean, 0.0)
    return Moments(mean, sigma**2, third)


def point_db(sums: Moments, share: float) -> Floats:
    """Return the loss [dB] that a share of all cases does not exceed, from summed moments.

    Pearson type III, a gamma set off, with the same three moments: shape k = 4/g^2, g the skewness, and the quantile
    mean + sigma (P^-1(k, share) - k) / sqrt(k); as g goes to 0 the normal one. One gamma alone has its own quantile.
    """
    from scipy.special import gammaincinv

    sigma = np.sqrt(sums.variance)
    with np.errstate(invalid="ignore", divide="ignore"):
        shape = 4.0 * sums.variance**3 / sums.third**2
    skewed = (shape < ALMOST_NORMAL) & (shape > 0)
    k = np.where(skewed, shape, 1.0)
    z = np.where(skewed, (gammaincinv(k, share) - k) / np.sqrt(k), NormalDist().inv_cdf(share))
    return np.asarray(sums.mean_db + z * sigma)


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
