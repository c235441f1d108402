"""Variable projection over the exponent: the least-squares power law with conduction, for many records at once.

Given n the model a b(t; n) + g c(t) is linear.  The weighted sums over the samples that its solution needs
are analytic in n, so they are taken at a few Chebyshev nodes, as matrix products, and the search over n
costs no further pass through the samples.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from soakage.physics.arrays import Floats, Indices

# The exponents that are searched: those of every insulation published, with room on both sides.
LOWEST, HIGHEST = 0.1, 1.6
_SCAN = 31
# Each pass fits a parabola to three points and narrows them; the last leaves 1e-7 in n.
_NARROWING = (1.0, 0.15, 0.0225, 0.003375)

Column = Callable[[Floats], Floats]


class ProfileFit(NamedTuple):
    """The least-squares fit of a b(t; n) + g c(t), all of shape (r,).

    Parameters
    ----------
    level : ndarray of float
        a, 0 or above.
    exponent : ndarray of float
        n; NaN where a is 0.
    conduction : ndarray of float
        g, 0 or above.
    sum_of_squares : ndarray of float
        Weighted sum of squares that is left.
    """

    level: Floats
    exponent: Floats
    conduction: Floats
    sum_of_squares: Floats


class _Moments(NamedTuple):
    """Chebyshev coefficients in n of the weighted sums (r, k), and the sums without n (r,)."""

    cc: Floats
    cy: Floats
    yy: Floats
    bc: Floats
    bb: Floats
    by: Floats

    def of(self, rows: Indices) -> _Moments:
        """Give the moments of some records."""
        return _Moments(*(entry[rows] for entry in self))


def _polynomials(n: Floats, nodes: int) -> Floats:
    """Chebyshev polynomials T_k at n, shape (k, ...)."""
    z = np.clip((2 * n - LOWEST - HIGHEST) / (HIGHEST - LOWEST), -1.0, 1.0)
    return np.asarray(np.cos(np.arange(nodes).reshape(-1, *(1,) * n.ndim) * np.arccos(z)))


def _moments(y: Floats, weights: Floats, column: Column, conduction: Floats, nodes: int) -> _Moments:
    angle = (2 * np.arange(nodes) + 1) * np.pi / (2 * nodes)
    b = column(0.5 * (LOWEST + HIGHEST) + 0.5 * (HIGHEST - LOWEST) * np.cos(angle))
    to_coefficients = np.cos(np.outer(angle, np.arange(nodes))) * (2.0 / nodes)
    to_coefficients[:, 0] *= 0.5
    wy = weights * y
    return _Moments(
        weights @ conduction**2,
        wy @ conduction,
        np.einsum("ij,ij->i", wy, y),
        (weights * conduction) @ b @ to_coefficients,
        weights @ (b * b) @ to_coefficients,
        wy @ b @ to_coefficients,
    )


def _linear(m: _Moments, n: Floats, *, conducting: bool) -> tuple[Floats, Floats, Floats]:
    """Solve for a and g at n (r,) or (r, q); also the sum of squares they explain."""
    polynomials = _polynomials(n, m.bb.shape[1])
    if n.ndim == 1:
        bc, bb, by = (np.einsum("rk,kr->r", entry, polynomials) for entry in (m.bc, m.bb, m.by))
        cc, cy = m.cc, m.cy
    else:
        bc, bb, by = (np.einsum("rk,krq->rq", entry, polynomials) for entry in (m.bc, m.bb, m.by))
        cc, cy = m.cc[:, None], m.cy[:, None]
    if not conducting:
        a = by / bb
        return a, np.zeros_like(a), a * by
    determinant = cc * bb - bc * bc
    a = (cc * by - bc * cy) / determinant
    g = (bb * cy - bc * by) / determinant
    return a, g, a * by + g * cy


def _best(m: _Moments, *, conducting: bool) -> tuple[Floats, Floats, Floats, Floats]:
    """Find the n that explains most; also a, g and what they explain."""
    scan = np.linspace(LOWEST, HIGHEST, _SCAN)
    spacing = scan[1] - scan[0]
    count = m.cc.size
    # One column of scanned exponents for all records: the polynomials are the same for each.
    polynomials = _polynomials(scan, m.bb.shape[1])
    bc, bb, by = m.bc @ polynomials, m.bb @ polynomials, m.by @ polynomials
    cc, cy = m.cc[:, None], m.cy[:, None]
    explained = by * by / bb
    if conducting:
        explained = ((cc * by - 2 * bc * cy) * by + bb * cy * cy) / (cc * bb - bc * bc)
    top = np.clip(explained.argmax(axis=1), 1, _SCAN - 2)
    n = scan[top]
    three = np.stack([explained[np.arange(count), top + k] for k in (-1, 0, 1)], axis=1)
    for scale in _NARROWING:
        width = spacing * scale
        if scale != 1.0:
            n = np.clip(n, LOWEST + width, HIGHEST - width)
            around = n[:, None] + width * np.array([-1.0, 0.0, 1.0])
            three = _linear(m, around, conducting=conducting)[2]
        bend = three[:, 0] - 2 * three[:, 1] + three[:, 2]
        slope = three[:, 2] - three[:, 0]
        peaked = bend < 0
        move = np.where(peaked, -0.5 * slope / np.where(peaked, bend, -1.0), np.sign(slope))
        n = np.clip(n + width * np.clip(move, -1.5, 1.5), LOWEST, HIGHEST)
    a, g, explained_best = _linear(m, n, conducting=conducting)
    return n, a, g, explained_best


def profile_fit(
    y: Floats, weights: Floats, column: Column, conduction: Floats, nodes: int = 20
) -> ProfileFit:
    """Fit a b(t; n) + g c(t) with a and g of 0 or above, by weighted least squares.

    Parameters
    ----------
    y : ndarray of float, shape (r, s)
        Readings, r records on one time grid; a reading of weight 0 must be a number.
    weights : ndarray of float, shape (r, s)
        Weight of each reading; 0 leaves it out.
    column : callable
        Gives b at exponents of shape (k,), as an array of shape (s, k).
    conduction : ndarray of float, shape (s,)
        c.
    nodes : int, optional
        Chebyshev nodes; 20 serve while the times span four decades.

    Returns
    -------
    ProfileFit
        The optimum over n from 0.1 to 1.6.  Where the free one has g below 0 it is sought again on g = 0, for the
        profile has a kink there; where a would be below 0 it is the conduction alone.

    References
    ----------
    Variable projection: Golub and Pereyra, SIAM J. Numer. Anal. 10 (1973) 413 (memory); moments by Chebyshev
    interpolation in n (derived), the same optimum as a bounded solver to 3.4e-10 in the sum of squares (derived).
    """
    m = _moments(y, weights, column, conduction, nodes)
    n, a, g, explained = _best(m, conducting=True)
    outside = np.flatnonzero((a < 0) | (g < 0))
    if outside.size:
        n0, a0, g0, explained0 = _best(m.of(outside), conducting=False)
        flat = m.cy[outside] ** 2 / m.cc[outside]
        only_conduction = (flat > explained0) | (a0 <= 0)
        n[outside] = n0
        a[outside] = np.where(only_conduction, 0.0, a0)
        g[outside] = np.where(only_conduction, m.cy[outside] / m.cc[outside], g0)
        explained[outside] = np.where(only_conduction, flat, explained0)
    return ProfileFit(a, np.where(a > 0, n, np.nan), g, np.maximum(m.yy - explained, 0.0))
