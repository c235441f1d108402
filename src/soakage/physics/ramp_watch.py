"""A knee in the current of a ramp, looked for reading by reading while the voltage still rises.

A healthy current lies in the span of {1, ln V, sqrt V, V}; a knee is what a hinge (V - V0)+ explains beyond
it.  Every block of readings is compared with all that came before, for every onset V0 on a grid: a
generalized likelihood ratio.  Slow noise looks like a knee, so each block is whitened first under several
mixtures of white and slow noise, and the readings themselves weigh the mixtures.
"""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soakage.errors import UsageError
from soakage.physics.arrays import Flags, Floats, floats
from soakage.physics.ramp import SETTLED_FROM

# Onsets looked for, as shares of the top voltage, and how far the voltage must be past one.
ONSETS = np.arange(0.10, 0.97, 0.02)
_PAST = 0.012
# Readings are averaged over this share of the top voltage, so that the threshold holds for any reading rate.
BLOCK = 0.005
# Slow part of the noise over its white part, and its correlation time [s].
RATIOS = np.array([0.0, 0.15, 0.5, 1.0, 2.0, 5.0])
CORRELATION_TIME = 20.0
# The readings weigh the mixtures by this power of their likelihood, and without the last blocks, so that a
# knee that begins does not pass for slow noise.
_TEMPER = 0.3
_LAG = 10
# Threshold: the first times the slow share to the power of the second, but at least the third.  At most 1 % of
# healthy ramps pass it, with noise of 0.1 to 2 %, white or up to half of it slow (measured).
THRESHOLD = 7.0
_THRESHOLD_POWER = 0.33
_LEAST_THRESHOLD = 3.45
# Statistic over threshold, and the share of healthy ramps with half slow noise that ever show as much (measured).
_RATIO = np.array([0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2])
_HEALTHY = np.array([0.98, 0.82, 0.44, 0.17, 0.06, 0.02, 0.008, 0.003, 0.001])
# A knee bends before a hinge can: this share of the way from the hinge to the voltage now is added back.
_LEAD = 0.25
# What the healthy basis itself misses, relative to the current: it holds to 0.07 % at worst.
_MISFIT = 3e-4
# Blocks before the first verdict: fewer do not show the noise.
FEWEST_BLOCKS = 25


class KneeLook(NamedTuple):
    """What the ramp shows so far; every array has the leading axes of the current.

    Parameters
    ----------
    voltage : float
        Voltage of the last block [V].
    statistic : ndarray of float, shape (...)
        Largest t value of a hinge; 0 before enough blocks are in.
    threshold : ndarray of float, shape (...)
        What it is compared with, raised with the measured slow share of the noise.
    onset : ndarray of float, shape (...)
        Where the knee began, if there is one [V].
    excess_share, excess_uncertainty : ndarray of float, shape (...)
        Current beyond the healthy curve over the healthy current, now, and its standard uncertainty [1].
    confidence : ndarray of float, shape (...)
        Share of healthy ramps that never come as near to their threshold [1].
    correlation : ndarray of float, shape (...)
        Slow share of the variance of the noise [1].
    scatter : ndarray of float, shape (...)
        Standard deviation of a block relative to the current [1].
    found : ndarray of bool, shape (...)
        Whether the statistic passes the threshold now.
    """

    voltage: float
    statistic: Floats
    threshold: Floats
    onset: Floats
    excess_share: Floats
    excess_uncertainty: Floats
    confidence: Floats
    correlation: Floats
    scatter: Floats
    found: Flags


class RampWatch:
    """Looks at a ramp reading by reading; many ramps of one voltage may be given at once.

    Parameters
    ----------
    top_voltage : float
        Highest voltage the ramp is meant to reach [V].

    Raises
    ------
    UsageError
        When the top voltage is not positive.
    """

    def __init__(self, top_voltage: float) -> None:
        if not top_voltage > 0:
            raise UsageError(f"The top voltage of a ramp is {top_voltage:g} V. Give a voltage above 0 [V].")
        self._top = top_voltage
        # A basis that is orthogonal over the whole ramp keeps the normal equations well conditioned.
        grid = np.linspace(SETTLED_FROM, 1.0, 200)
        self._turn = np.linalg.inv(np.linalg.qr(_healthy(grid))[1]) * np.sqrt(grid.size)
        self._block: list[tuple[float, float, Floats]] = []
        self._blocks = 0
        self._last_time = np.nan
        self._last_share = np.nan
        self._reference = np.zeros(())
        self._ahead = np.zeros(())
        self._unknown = RATIOS.copy()
        self._gram = np.zeros(())
        self._log_size = np.zeros(RATIOS.size)
        self._likely: deque[Floats] = deque(maxlen=_LAG + 1)

    def add(self, time: float, voltage: float, current: ArrayLike) -> KneeLook | None:
        """Take one reading.

        Parameters
        ----------
        time : float
            Time [s].
        voltage : float
            Voltage [V]; readings below 4 % of the top are left out.
        current : array_like, shape (...)
            Current [A], one per ramp.

        Returns
        -------
        KneeLook or None
            None while a block of readings is not full yet or there are too few blocks.
        """
        share = voltage / self._top
        spacing = share - self._last_share
        self._last_share = share
        if not share >= SETTLED_FROM:
            return None
        self._block.append((time, share, floats(current)))
        # Each reading stands for the voltage since the one before it.
        if not share - self._block[0][1] + spacing >= BLOCK * (1.0 - 1e-9):
            return None
        t, v = (float(np.mean([row[k] for row in self._block])) for k in (0, 1))
        i = np.mean([row[2] for row in self._block], axis=0)
        self._block.clear()
        self._take(t, v, i)
        return self._look(v) if self._blocks >= FEWEST_BLOCKS else None

    def _take(self, time: float, v: float, i: Floats) -> None:
        """Whiten one block under each mixture of noise and add it to the sums."""
        row = np.concatenate([(_healthy(np.array([v])) @ self._turn)[0], np.maximum(v - ONSETS, 0.0)])
        size = np.abs(i)
        self._reference = size if not self._blocks else self._reference + 0.3 * (size - self._reference)
        columns = np.concatenate(
            [np.broadcast_to(row, (*i.shape, row.size)), i[..., None]], axis=-1
        ) / np.maximum(self._reference, np.finfo(float).tiny)[..., None]  # fmt: skip
        faded = np.exp(-(time - self._last_time) / CORRELATION_TIME) if self._blocks else 0.0
        along = (slice(None), *(None,) * (i.ndim + 1))
        ahead = faded * self._ahead
        unknown = faded**2 * self._unknown + RATIOS * (1.0 - faded**2)
        total = unknown + 1.0
        fresh = columns - ahead
        gain = unknown / total
        self._ahead = ahead + gain[along] * fresh
        self._unknown = unknown * (1.0 - gain)
        white = fresh / np.sqrt(total)[along]
        # Of the products of columns only those with the healthy basis, with the data and squares are used.
        p = self._turn.shape[0]
        products = np.concatenate(
            [(white[..., :p, None] * white[..., None, :]).reshape(*white.shape[:-1], -1),
             white * white[..., -1:], white**2], axis=-1,
        )  # fmt: skip
        self._gram = self._gram + products
        self._log_size = self._log_size + np.log(total)
        self._last_time = time
        self._blocks += 1

    def _look(self, v: float) -> KneeLook:
        p, width = self._turn.shape[0], ONSETS.size
        cross = self._gram[..., : p * (p + width + 1)].reshape(*self._gram.shape[:-1], p, -1)
        with_data = self._gram[..., -2 * (p + width + 1) : -(p + width + 1)]
        squares = self._gram[..., -(p + width + 1) :]
        normal, tied = cross[..., :p], cross[..., p:]
        solved = np.linalg.solve(normal, tied)
        hinge_square = squares[..., p:-1] - (tied[..., :-1] * solved[..., :-1]).sum(axis=-2)
        hinge_data = with_data[..., p:-1] - (tied[..., :-1] * solved[..., -1:]).sum(axis=-2)
        rest = squares[..., -1] - (tied[..., -1] * solved[..., -1]).sum(axis=-1)
        usable = (v - ONSETS > _PAST) & (hinge_square > 1e-9 * squares[..., p:-1])
        slope = np.where(usable, hinge_data / np.where(usable, hinge_square, 1.0), 0.0)
        free = self._blocks - p - 1
        left = np.maximum(rest[..., None] - slope * hinge_data, 1e-12 * squares[..., -1:])
        t = slope * np.sqrt(np.where(usable, hinge_square, 1.0) / (left / free + _MISFIT**2))
        weight = self._weights(normal, np.maximum(rest, 1e-12 * squares[..., -1]))
        path = (weight[..., None] * t).sum(axis=0)
        best = path.argmax(axis=-1)[..., None]
        statistic = np.take_along_axis(path, best, axis=-1)[..., 0]
        share = (weight * _along(RATIOS / (1.0 + RATIOS), weight)).sum(axis=0)
        threshold = np.maximum(THRESHOLD * share**_THRESHOLD_POWER, _LEAST_THRESHOLD)
        now = (_healthy(np.array([v])) @ self._turn)[0]
        curve = np.einsum("b,...bj->...j", now, solved)
        beyond = slope * (v - ONSETS)
        excess = (weight[..., None] * beyond / (curve[..., -1:] - slope * curve[..., :-1])).sum(axis=0)
        excess = np.take_along_axis(excess, best, axis=-1)[..., 0]
        fits = np.exp(0.5 * (np.maximum(path, 0.0) ** 2 - statistic[..., None] ** 2)) * (path > 0)
        hinge = (fits * ONSETS).sum(axis=-1) / np.maximum(fits.sum(axis=-1), 1e-300)
        noise = (weight * np.sqrt(rest * _along(1.0 + RATIOS, weight) / (self._blocks - p))).sum(axis=0)
        ever = np.exp(np.interp(statistic / threshold, _RATIO, np.log(_HEALTHY)))
        return KneeLook(
            v * self._top, statistic, threshold, (hinge - _LEAD * (v - hinge)) * self._top, excess,
            np.abs(excess) / np.maximum(statistic, 1e-9), 1.0 - ever, share, noise, statistic > threshold,
        )  # fmt: skip

    def _weights(self, normal: Floats, rest: Floats) -> Floats:
        """Weigh the mixtures of noise by the healthy fit, as it stood a little earlier."""
        likely = -0.5 * ((self._blocks - normal.shape[-1]) * np.log(rest) + np.linalg.slogdet(normal)[1])
        self._likely.append(likely - 0.5 * _along(self._log_size, likely))
        weight = np.exp(_TEMPER * (self._likely[0] - self._likely[0].max(axis=0)))
        return np.asarray(weight / weight.sum(axis=0))


def _along(values: Floats, like: Floats) -> Floats:
    """Put one value per mixture on the first axis."""
    return values.reshape(-1, *(1,) * (like.ndim - 1))


def _healthy(v: Floats) -> Floats:
    """Columns of the healthy basis at shares of the top voltage."""
    return np.stack([np.ones_like(v), np.log(v), np.sqrt(v), v], axis=1)
