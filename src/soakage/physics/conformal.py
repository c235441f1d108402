"""Forecasts measured against the tests a site has completed, and rescaled to keep what they promise."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Floats, floats
from soakage.physics.forecast import Forecast

FEWEST_TESTS = 20


class Archive(NamedTuple):
    """What an archive of complete tests says of forecasts made at one time.

    Parameters
    ----------
    scale : float
        Factor on the width of an interval in ln of the index [1].
    tests : int
        Complete tests it rests on.
    rank : int
        Which of their scores, in rising order, is the factor.
    covered : float
        Share of the tests whose index lay in the interval before rescaling [1].
    """

    scale: float
    tests: int
    rank: int
    covered: float


def archive_scale(forecasts: Sequence[Forecast], measured: ArrayLike) -> Archive:
    """Find the factor that makes intervals hold as often as they say, by split-conformal prediction.

    Parameters
    ----------
    forecasts : sequence of Forecast
        One for each complete test, made from its beginning with scale 1, all to the same time.
    measured : array_like, shape (m,)
        The index that each test then gave [1].

    Returns
    -------
    Archive
        Holds on average over tests that are exchangeable with those of the archive, not for one machine.

    Raises
    ------
    UsageError
        When there are fewer than 20 complete tests, or not one index per forecast.

    References
    ----------
    Split-conformal prediction, rank ceil((m + 1) level): theorempath.com, conformalprediction.net (read).
    """
    index = floats(measured)
    if index.shape != (len(forecasts),) or index.size < FEWEST_TESTS:
        raise UsageError(
            f"Rescaling needs at least {FEWEST_TESTS} complete tests, one index for each forecast. "
            f"Given: {len(forecasts)} forecasts, {index.size} indices. Use the forecast as it is until there are more."
        )
    scores = np.sort(_scores(forecasts, index))
    rank = min(ceil((index.size + 1) * forecasts[0].level - 1e-9), index.size)
    return Archive(float(scores[rank - 1]), index.size, rank, float(np.mean(scores <= 1.0)))


def _scores(forecasts: Sequence[Forecast], index: Floats) -> Floats:
    """Give how many half widths, in ln, each index lies from its estimate."""
    middle, low, high = (
        np.log([getattr(one, end) for one in forecasts]) for end in ("estimate", "lower", "upper")
    )
    off = np.log(index) - middle
    return np.asarray(np.where(off >= 0, off / (high - middle), off / (low - middle)))
