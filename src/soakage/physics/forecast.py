"""The polarization index before its ten minutes are over: an estimate, an interval, a probability.

It holds if nothing changes.  What begins after the last reading seen cannot be foreseen, and no standard takes a
forecast for the hold it asks for: this is no judgement.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Floats, floats
from soakage.physics.binning import log_bins
from soakage.physics.forecast_shape import ANCHOR, Outlook, outlook

# Readings before the anchor are needed as well as up to it: less than this says nothing of the shape.
FEWEST = 15
_POINTS = 13
_QUANTILES = 81
_REACH = 6.0
# Standard deviations a run of arriving readings must be off the band's middle, noise included.
_LEAVES = 3.5
_FEWEST_ARRIVED = 3
_ARRIVING_PER_DECADE = 40


class Forecast(NamedTuple):
    """What a record is heading for, if nothing changes.

    Parameters
    ----------
    mark : float
        Time of the later resistance of the index [s]; the earlier is that at 60 s.
    seen_until : float
        Time of the last reading used [s].
    level : float
        Nominal coverage of the interval [1].
    estimate, lower, upper : float
        Median and ends of the interval of the index [1].
    log_index : ndarray of float, shape (q,)
        ln of the index, rising.
    cumulative : ndarray of float, shape (q,)
        Probability that the index lies below.
    time : ndarray of float, shape (p,)
        Times of the band of the current, from the last reading to the mark [s].
    log_current, log_deviation : ndarray of float, shape (p,)
        Mean and standard deviation of ln |I| there, without the noise of a reading [ln A].
    scatter, lasting : float
        White and lasting noise of one reading, as shares of the current [1].
    """

    mark: float
    seen_until: float
    level: float
    estimate: float
    lower: float
    upper: float
    log_index: Floats
    cumulative: Floats
    time: Floats
    log_current: Floats
    log_deviation: Floats
    scatter: float
    lasting: float

    def probability(self, limit: float) -> float:
        """Give the probability that the index is at or above a limit [1]."""
        below = np.interp(np.log(limit), self.log_index, self.cumulative, left=0.0, right=1.0)
        return float(1.0 - below)

    def band(self) -> tuple[Floats, Floats]:
        """Give the ends of the band of the current [A] at the forecast's times, without the noise of a reading."""
        from scipy.special import ndtri

        half = float(ndtri(0.5 + 0.5 * self.level)) * self.log_deviation
        return np.exp(self.log_current - half), np.exp(self.log_current + half)


class Departure(NamedTuple):
    """Where arriving readings have left the band of a forecast.

    Parameters
    ----------
    at : float
        When they first had, [s].
    above : bool
        Whether the current is above the band; below otherwise.
    share : float
        Mean distance from the middle of the band there, as a share of the current [1].
    """

    at: float
    above: bool
    share: float


def forecast_index(
    time: ArrayLike,
    current: ArrayLike,
    bound: ArrayLike | None = None,
    *,
    mark: float = 600.0,
    level: float = 0.9,
    scale: float = 1.0,
) -> Forecast:
    """Forecast the polarization index from the beginning of a record.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times since the voltage was applied, rising [s], above 0; the last at 60 s or later and before the mark.
    current : array_like, shape (n,)
        Currents under constant voltage [A]; NaN where nothing was read.
    bound : array_like of int8, shape (n,), optional
        Readings with a mark other than 0 are bounds and are left out.
    mark : float, optional
        Time of the later resistance [s].
    level : float, optional
        Nominal coverage of the interval.
    scale : float, optional
        Factor on the width in ln of the index, from an archive of complete tests (:mod:`.conformal`).

    Returns
    -------
    Forecast

    Raises
    ------
    UsageError
        When there are too few readings, or they end before 60 s or at the mark.

    References
    ----------
    The model of :mod:`.forecast_shape` (derived); coverage measured by simulation, no published counterpart found.
    """
    t, y = floats(time), floats(current)
    used = np.isfinite(y) & (t > 0)
    if bound is not None:
        used &= np.asarray(bound) == 0
    t, y = t[used], y[used]
    if t.size < FEWEST or t[-1] < ANCHOR or t[-1] >= mark:
        last = float(t[-1]) if t.size else 0.0
        raise UsageError(
            f"A forecast needs at least {FEWEST} readings up to {ANCHOR:g} s or later, and before {mark:g} s. "
            f"Given: {t.size} up to {last:g} s. Wait for more readings, or use the index itself."
        )
    if np.median(y) == 0.0:
        raise UsageError(
            "A forecast needs a current. Given: readings of 0 A. Use a finer range of the instrument."
        )
    # The sign is that of the supply: the shape is the same.
    sign = 1.0 if np.median(y) > 0 else -1.0
    ahead = np.geomspace(t[-1], mark, _POINTS)
    found = outlook(t, sign * y, ahead)
    log_index, cumulative = _quantiles(found)
    middle = float(np.interp(0.5, cumulative, log_index))
    log_index = middle + scale * (log_index - middle)
    tail = (1.0 - level) / 2
    lower, estimate, upper = np.exp(np.interp([tail, 0.5, 1.0 - tail], cumulative, log_index)).tolist()
    mean = found.weight @ found.log_current
    variance = found.weight @ (found.log_variance + (found.log_current - mean) ** 2)
    return Forecast(
        mark, float(t[-1]), level, estimate, lower, upper, log_index, cumulative, ahead, mean,
        scale * np.sqrt(variance), found.scatter, found.lasting,
    )  # fmt: skip


def _quantiles(found: Outlook) -> tuple[Floats, Floats]:
    """Lay out the distribution of ln of the index."""
    from scipy.special import ndtr

    mean = float(found.weight @ found.log_ratio)
    spread = float(np.sqrt(found.weight @ (found.ratio_variance + (found.log_ratio - mean) ** 2)))
    at = mean + spread * np.linspace(-_REACH, _REACH, _QUANTILES)
    below = ndtr((at[:, None] - found.log_ratio) / np.sqrt(found.ratio_variance)) @ found.weight
    return at, np.maximum.accumulate(below)


def leaves_band(forecast: Forecast, time: ArrayLike, current: ArrayLike) -> Departure | None:
    """Compare readings that arrive after a forecast with the band it gave.

    Parameters
    ----------
    forecast : Forecast
        The earlier forecast.
    time : array_like, shape (n,)
        Times of the arriving readings, rising [s]; those up to the last one seen are left out.
    current : array_like, shape (n,)
        Currents [A].

    Returns
    -------
    Departure or None
        None while they stay inside; a change since the forecast otherwise.

    References
    ----------
    Mean of a run of readings against the predictive distribution, noise included (derived).
    """
    t, y = floats(time), floats(current)
    arrived = (t > forecast.seen_until) & (t <= forecast.mark) & np.isfinite(y)
    t, y = t[arrived], y[arrived]
    if t.size < _FEWEST_ARRIVED:
        return None
    sign = 1.0 if np.median(y) >= 0 else -1.0
    bins = log_bins(t, _ARRIVING_PER_DECADE)
    x, known = np.log(t), np.log(forecast.time)
    off = bins.mean(sign * y / np.exp(np.interp(x, known, forecast.log_current)) - 1.0)
    deviation = np.interp(bins.mean(x), known, forecast.log_deviation)
    noise = forecast.scatter**2 / bins.samples + forecast.lasting**2
    out = np.abs(np.log1p(np.maximum(off, -0.999))) > _LEAVES * np.sqrt(deviation**2 + noise)
    out &= bins.samples >= _FEWEST_ARRIVED
    if not out.any():
        return None
    first = int(out.argmax())
    last_of_run = int(np.cumsum(bins.samples)[first]) - 1
    return Departure(float(t[last_of_run]), bool(off[first] > 0), float(off[first]))
