"""The fit of a whole record: absorption coefficient, exponent and conductance from every reading, with covariance.

The two-reading index leans on two instants; this leans on all of them, says how sure it is with the noise as
it is, and says so when the insulation does not behave as the model does.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Bounds, Flags, Floats, floats
from soakage.physics.binning import Bins, log_bins
from soakage.physics.fit_check import AGAINST, TOO_FEW, check_fit
from soakage.physics.fit_model import Model, derivatives, model_for, weighted_fit
from soakage.physics.fit_noise import NoiseGrid, noise_grid, weigh_noise
from soakage.physics.superposition import Corners

# Fewer readings than this, or a shorter span of time (last over first), do not hold three parameters.
FEWEST, SHORTEST_SPAN = 8, 4.0
_MOST_BINS = 120
# Records analysed at one time; keeps the covariances of all kinds of noise in the cache.
_CHUNK = 64


class CurrentFit(NamedTuple):
    """I(t) = V [A (t + t0)^-n + G] as fitted, one element per record; NaN where it does not follow the model.

    Parameters
    ----------
    absorption_coefficient : ndarray of float, shape (...)
        A [S s^n].
    absorption_exponent : ndarray of float, shape (...)
        n [1], 0.1 to 1.6; NaN where there is no absorption current.
    conductance : ndarray of float, shape (...)
        G, bulk and surface together [S], 0 or above.
    covariance : ndarray of float, shape (..., 3, 3)
        Covariance of A, n and G, white and correlated noise taken into account.
    follows_model : ndarray of bool, shape (...)
        Whether the record is one of this model.
    reason : ndarray of int8, shape (...)
        0, or the index in :data:`soakage.physics.fit_check.REASONS` of why not.
    event_time : ndarray of float, shape (...)
        When the current stepped [s]; NaN where it did not.
    departure : ndarray of float, shape (...)
        Root mean square of the smooth departure from the model, as a share of the current [1].
    scatter : ndarray of float, shape (...)
        Standard deviation of one reading as a share of the current [1].
    correlation : ndarray of float, shape (...)
        Share of that variance that lasts from reading to reading [1].
    correlation_time : ndarray of float, shape (...)
        How long it lasts [s]; NaN where it does not.
    reach : ndarray of float, shape (...)
        Time of the last reading used [s].
    offset : float
        t0 [s].
    """

    absorption_coefficient: Floats
    absorption_exponent: Floats
    conductance: Floats
    covariance: Floats
    follows_model: Flags
    reason: Bounds
    event_time: Floats
    departure: Floats
    scatter: Floats
    correlation: Floats
    correlation_time: Floats
    reach: Floats
    offset: float


def fit_current(
    time: ArrayLike,
    current: ArrayLike,
    test_voltage: ArrayLike | Corners = 1.0,
    *,
    voltage: ArrayLike | None = None,
    weights: ArrayLike | None = None,
    bound: ArrayLike | None = None,
    offset: float = 0.0,
) -> CurrentFit:
    """Fit absorption and conduction to every reading of each record.

    Parameters
    ----------
    time : array_like, shape (n,)
        Times since the voltage was applied, rising [s], all above 0; shared by the records.
    current : array_like, shape (n,) or (..., n)
        Currents [A]; NaN where nothing was read.
    test_voltage : array_like, shape () or (...), or Corners, optional
        Constant voltage [V], or a varied one as corners, whose steps and slopes are then superposed.
    voltage : array_like, shape (n,) or (..., n), optional
        Voltage as read beside each current [V]; the current is divided by it, which suits a nearly constant one.
    weights : array_like, shape (n,) or (..., n), optional
        Weight of each reading; without them every reading counts by the square of its current, inverted.
    bound : array_like of int8, shape (n,) or (..., n), optional
        Readings with a mark other than 0 are bounds and are left out.
    offset : float, optional
        t0 [s], added to the time since an edge; needed above 0 for slopes and exponents of 1 or more.

    Returns
    -------
    CurrentFit

    Raises
    ------
    UsageError
        When times do not rise from above 0, or both kinds of varied voltage are given.

    References
    ----------
    I(t) = V (A t^-n + G): IEEE Std 43 for the currents (secondary); variable projection (memory); covariance of
    weighted least squares under correlated noise, the sandwich form (derived).
    """
    t, y = floats(time), floats(current)
    if t.ndim != 1 or t.size == 0 or t[0] + offset <= 0 or (np.diff(t) <= 0).any():
        raise UsageError(
            "A fit needs times that rise from above 0 s. "
            f"Given: {t.size} times from {t.flat[0] if t.size else float('nan'):g} s. "
            "Sort them, and leave out the reading at 0 s."
        )
    if isinstance(test_voltage, Corners):
        if voltage is not None:
            raise UsageError(
                "A fit takes the voltage once. Given: corners and readings. Leave one of them out."
            )
        corners: Corners | None = test_voltage
    else:
        corners = None
        y = y / (floats(test_voltage)[..., None] if voltage is None else floats(voltage))
    records = y.reshape(-1, t.size)
    used = np.isfinite(records)
    if bound is not None:
        used &= np.broadcast_to(np.asarray(bound) == 0, y.shape).reshape(records.shape)
    weight = None if weights is None else np.broadcast_to(floats(weights), y.shape).reshape(records.shape)
    if weight is not None:
        used &= weight > 0
    arrays = _blank(len(records))
    # Records that have the same readings missing share one time grid, and with it all that depends on it.
    patterns, member = np.unique(used, axis=0, return_inverse=True)
    for number, pattern in enumerate(patterns):
        rows, kept = np.flatnonzero(member == number), t[pattern]
        if kept.size < FEWEST or kept[-1] < SHORTEST_SPAN * kept[0]:
            continue
        setting = _Setting.at(kept, offset, corners)
        if setting.bins.samples.size < FEWEST:
            continue
        forward = records[np.ix_(rows, pattern)] @ setting.model.conduction > 0
        arrays[_REASON][rows[~forward]] = AGAINST
        rows = rows[forward]
        for part in np.array_split(rows, -(-rows.size // _CHUNK)) if rows.size else ():
            own = None if weight is None else weight[np.ix_(part, pattern)]
            for target, source in zip(arrays, setting.fit(records[np.ix_(part, pattern)], own), strict=True):
                target[part] = source
    shaped = [entry.reshape((*y.shape[:-1], *entry.shape[1:])) for entry in arrays]
    return CurrentFit._make([*shaped, offset])


# Its place among the fields.
_REASON = CurrentFit._fields.index("reason")


def _blank(count: int) -> list[Any]:
    """Give the fields of as many records without a fit, for want of readings; all but the offset."""
    nothing = [np.full(count, np.nan) for _ in range(9)]
    follows, reason = np.zeros(count, dtype=bool), np.full(count, TOO_FEW, dtype=np.int8)
    return [*nothing[:3], np.full((count, 3, 3), np.nan), follows, reason, *nothing[3:]]


class _Setting(NamedTuple):
    """What the records of one time grid share."""

    time: Floats
    model: Model
    bins: Bins
    grid: NoiseGrid
    varied: bool

    @classmethod
    def at(cls, time: Floats, offset: float, corners: Corners | None) -> _Setting:
        """Prepare it."""
        bins = log_bins(time, most=_MOST_BINS)
        return cls(time, model_for(time, offset, corners), bins, noise_grid(time, bins), corners is not None)

    def fit(self, y: Floats, weights: Floats | None) -> tuple[Any, ...]:
        """Fit the records, in the order of the fields of the result."""
        fitted, curve, w = weighted_fit(self.model, y, weights)
        columns = derivatives(self.model, fitted) / curve[..., None]
        residual = y / curve - 1.0
        means, binned = self.bins.mean(np.swapaxes(columns, 1, 2)).swapaxes(1, 2), self.bins.mean(residual)
        step_variance = np.mean(np.diff(residual, axis=1) ** 2, axis=1) / 2
        size = np.abs(curve).mean(axis=1, keepdims=True)
        shape = None if self.varied else self.bins.mean(curve) / size
        check = check_fit(
            self.grid, self.bins, self.time, binned, means, np.abs(means[..., 2]) * size, shape, step_variance
        )
        noise = weigh_noise(self.grid, binned, means, step_variance)
        # The error of weighted least squares is bread times the weighted noise, whatever the noise is.
        counted = np.swapaxes(columns * (w * curve**2)[..., None], 1, 2)
        # Level and conductance are far smaller numbers than the exponent; a level of 0 leaves it without a say.
        length = np.sqrt(np.einsum("rps,rsp->rp", counted, columns))
        unit = 1.0 / np.where(length > 0, length, 1.0)
        square = counted @ columns * unit[:, :, None] * unit[:, None, :]
        bread = np.linalg.pinv(square, rcond=1e-13, hermitian=True) * unit[:, :, None] * unit[:, None, :]
        filling = self.bins.mean(counted) * self.bins.samples
        covariance = bread @ (filling @ noise.covariance @ np.swapaxes(filling, 1, 2)) @ bread
        # From the level in the middle of the record to A, whose time is 1 s.
        n = np.where(np.isnan(fitted.exponent), 0.0, fitted.exponent)
        factor = self.model.centre**n
        jacobian = np.broadcast_to(np.eye(3), covariance.shape).copy()
        jacobian[:, 0, 0], jacobian[:, 0, 1] = factor, fitted.level * factor * np.log(self.model.centre)
        follows = check.reason == 0
        blank = np.where(follows, 1.0, np.nan)
        return (
            blank * fitted.level * factor, blank * fitted.exponent, blank * fitted.conduction,
            blank[:, None, None] * (jacobian @ covariance @ np.swapaxes(jacobian, 1, 2)),
            follows, check.reason, check.event_time, check.departure,
            noise.scatter, noise.correlation, noise.correlation_time, np.full(len(y), self.time[-1]),
        )  # fmt: skip
