"""Time bins for long records: even in ln t at first, then of one width, so that hours cost no more than minutes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.physics.arrays import Floats, Indices, floats


class Bins(NamedTuple):
    """Which bin every sample falls in.

    Parameters
    ----------
    place : ndarray of int, shape (n,)
        Bin of each sample, counted from 0 without gaps.
    samples : ndarray of int, shape (b,)
        Samples in each bin.
    """

    place: Indices
    samples: Indices

    def mean(self, values: Floats) -> Floats:
        """Average over each bin; samples on the last axis."""
        first = np.concatenate(([0], np.cumsum(self.samples)[:-1]))
        return np.asarray(np.add.reduceat(values, first, axis=-1) / self.samples)

    def kernel(self, time: Floats, correlation_time: float) -> Floats:
        """Average exp(-|t - t'|/correlation time) over every pair of samples of two bins, shape (b, b).

        Between two bins the mean separates into a product; within one it is summed as the samples come.
        """
        first = np.cumsum(self.samples) - self.samples
        start, end = time[first], time[first + self.samples - 1]
        # Measured from the edges of the bins, no exponential exceeds 1.
        to_end = self.mean(np.exp((time - end[self.place]) / correlation_time))
        to_start = self.mean(np.exp((start[self.place] - time) / correlation_time))
        apart = np.exp(np.minimum(end[:, None] - start, 0.0) / correlation_time)
        between = to_end[:, None] * to_start * apart
        earlier = np.arange(start.size)[:, None] < np.arange(start.size)
        kernel = np.where(earlier, between, between.T)
        # Within a bin, each sample adds what the earlier ones still have in common with it.
        common, pairs = np.zeros(start.size), np.zeros(start.size)
        for rank in range(1, int(self.samples.max())):
            has = np.flatnonzero(self.samples > rank)
            now = first[has] + rank
            common[has] = (common[has] + 1.0) * np.exp((time[now - 1] - time[now]) / correlation_time)
            pairs[has] += common[has]
        np.fill_diagonal(kernel, (self.samples + 2 * pairs) / self.samples**2)
        return np.asarray(kernel)


def log_bins(time: ArrayLike, per_decade: int = 14, most: int | None = None) -> Bins:
    """Sort times into bins.

    Parameters
    ----------
    time : array_like, shape (n,)
        Rising times [s], all above 0.
    per_decade : int, optional
        Bins in a decade of time.
    most : int, optional
        Bins in the whole record at most: late bins are then no wider than the record over half of this,
        which keeps noise with a correlation time visible.  Without it every bin is even in ln t.

    Returns
    -------
    Bins
        A bin without a sample is left out.

    References
    ----------
    Bins even in ln t for a response that is even in ln t (derived).
    """
    t = floats(time)
    position = np.log10(t / t[0]) * per_decade
    if most is not None:
        # The same coordinate, but from the time where a bin would be too wide it goes on evenly in t.
        width = (t[-1] - t[0]) / (most / 2)
        turn = max(width / np.expm1(np.log(10.0) / per_decade), t[0])
        late = np.log10(turn / t[0]) * per_decade + (t - turn) / width
        position = np.where(t > turn, late, position)
    _, index, count = np.unique(np.floor(position + 1e-9), return_inverse=True, return_counts=True)
    return Bins(index, count)
