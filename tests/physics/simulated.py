"""Simulated records whose truth is known: shapes of insulation, kinds of noise, and the populations drawn from them.

Currents are relative to the noise-free one at 60 s.  Everything here is invented; the shapes are named after
what departs from a pure power law with conduction.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Rng = np.random.Generator

TIME = np.arange(5.0, 601.0)
SHAPES = ("power", "curved", "break", "drift", "ladder")


class Population(NamedTuple):
    """Records without noise (r, n), their true I(60 s)/I(600 s) and conduction share at 60 s, both (r,)."""

    current: Floats
    polarization_index: Floats
    share: Floats


class Noise(NamedTuple):
    """White noise, the share of its variance that lasts 20 s, and mains pick-up as a share of the 60 s current."""

    scatter: float
    lasting: float = 0.0
    mains: float = 0.0


def power_law(time: Floats, exponent: Floats | float, share: Floats | float) -> Floats:
    """(1 - s) (t/60)^-n + s, one row per record."""
    n, s = np.atleast_1d(exponent)[:, None], np.atleast_1d(share)[:, None]
    return np.asarray((1 - s) * np.exp(-n * np.log(time / 60.0)) + s)


def lasting_noise(rng: Rng, count: int, samples: int, correlation_time: float = 20.0) -> Floats:
    """Unit Ornstein-Uhlenbeck noise at one reading a second."""
    keep = np.exp(-1.0 / correlation_time)
    steps = rng.normal(size=(samples, count)) * np.sqrt(1 - keep * keep)
    steps[0] /= np.sqrt(1 - keep * keep)
    for k in range(1, samples):
        steps[k] += keep * steps[k - 1]
    return np.ascontiguousarray(steps.T)


def draw(rng: Rng, count: int) -> tuple[Floats, Floats]:
    """Exponents 0.5 to 1.1; conduction at 60 s a third each dry (to 5 %), between (log-uniform to 50 %) and wet."""
    kind = rng.integers(0, 3, count)
    between = np.exp(rng.uniform(np.log(0.05), np.log(0.5), count))
    dry_or_between = np.where(kind == 0, rng.uniform(0, 0.05, count), between)
    return rng.uniform(0.5, 1.1, count), np.where(kind == 2, rng.uniform(0.5, 1.0, count), dry_or_between)


def population(rng: Rng, count: int, shape: str = "power", time: Floats = TIME) -> Population:
    """Draw records of one shape."""
    n, s = (value[:, None] for value in draw(rng, count))
    moments = np.concatenate([[60.0, 600.0], time])
    x = np.log(moments / 60.0)
    if shape == "curved":
        absorbed = np.exp(-n * x + rng.normal(0.0, 0.02, (count, 1)) * x * x)
    elif shape == "break":
        # From one slope to a steeper one, somewhere between half a minute and a quarter of an hour.
        early, more = rng.uniform(0.4, 0.8, (count, 1)), rng.uniform(0.2, 0.6, (count, 1))
        u = moments / np.exp(rng.uniform(np.log(30.0), np.log(1000.0), (count, 1)))
        absorbed = u**-early / (1 + u**more)
    elif shape == "ladder":
        # Five branches, three quarters of a decade apart and jittered: lumpier than windings are likely to be.
        tau = 10 ** (0.3 + 0.75 * np.arange(5) + rng.uniform(-0.25, 0.25, (count, 5)))
        size = tau**-n * np.exp(rng.normal(0.0, 0.3, (count, 5)))
        absorbed = np.einsum("rk,rkt->rt", size, np.exp(-moments / tau[..., None]))
    else:
        absorbed = np.exp(-n * x)
    conducted = np.broadcast_to(s, absorbed.shape)
    if shape == "drift":
        # Leakage that dries or grows by up to a fifth over the test.
        conducted = s * (1 + rng.uniform(-0.2, 0.2, (count, 1)) * (moments - 60.0) / 540.0)
    whole = (1 - s) * absorbed / absorbed[:, :1] + conducted
    return Population(whole[:, 2:] / whole[:, :1], whole[:, 0] / whole[:, 1], s[:, 0])


def noisy(rng: Rng, current: Floats, noise: Noise, window: float = 0.11) -> Floats:
    """Add noise to records of one reading a second; mains pick-up is averaged over the window and beats."""
    count, samples = current.shape
    white = np.sqrt(1 - noise.lasting) * rng.normal(size=current.shape)
    relative = white + np.sqrt(noise.lasting) * lasting_noise(rng, count, samples)
    read = current * (1 + noise.scatter * relative)
    if noise.mains:
        frequency = rng.choice([50.0, 60.0], (count, 1)) + 0.02 * lasting_noise(rng, count, samples, 60.0)
        phase = rng.uniform(0, 2 * np.pi, (count, 1)) + 2 * np.pi * np.cumsum(frequency, axis=1)
        read = read + noise.mains * np.sinc(frequency * window) * np.cos(phase)
    return np.asarray(read)
