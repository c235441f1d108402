"""Closed forms against slow ways: bisection, quadrature, numerical slopes, the whole system of equations."""

from __future__ import annotations

import math
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.stats import norm

from soakage.physics.absorption import absorption_ratio_model
from soakage.physics.bounds import bounded, largest, smallest
from soakage.physics.conformity import (
    conformity_probability,
    guard_band,
    normal_probability,
    resistance_conformity_probability,
)
from soakage.physics.energy import activation_factor, equivalent_activation_energy
from soakage.physics.humidity import dew_point, relative_humidity
from soakage.physics.network import (
    THREE_WINDING_PAIRS,
    THREE_WINDING_READINGS,
    TWO_WINDING_PAIRS,
    TWO_WINDING_READINGS,
    three_winding_network,
    two_winding_network,
)
from soakage.physics.ramp import ramp_rate
from soakage.physics.resistance import at_mark, insulation_resistance
from soakage.physics.spread import leakage_spread_of_least, leakage_spread_of_mean, phase_spread
from soakage.physics.temperature import exponential_factor, halving_factor, per_10k_factor
from soakage.physics.temperature_tables import composed_factor, table_factor
from soakage.physics.three_point import three_point
from soakage.physics.uncertainty import (
    corrected_uncertainty,
    product_uncertainty,
    ratio_uncertainty,
    reading_uncertainty,
)
from soakage.physics.uncertainty_ratio import resistance_ratio_uncertainty

OHMS = st.floats(1e6, 1e12)
SHARE = st.floats(0.01, 0.3)


# ---- humidity ---------------------------------------------------------------------------------------------
def saturation(celsius: float) -> float:
    """Return the saturation pressure over water in hPa: WMO-No. 8, after Sonntag 1990 (secondary)."""
    return 6.112 * math.exp(17.62 * celsius / (243.12 + celsius))


@given(st.floats(-40.0, 60.0), st.floats(0.02, 1.0))
def test_the_dew_point_is_where_the_vapour_saturates(celsius: float, share: float) -> None:
    pressure = share * saturation(celsius)
    low, high = -120.0, celsius + 1.0
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if saturation(middle) < pressure else (low, middle)
    assert dew_point(celsius, share) == pytest.approx(low, abs=1e-8)


@given(st.floats(-40.0, 60.0), st.floats(0.0, 40.0))
def test_the_humidity_is_a_ratio_of_pressures(celsius: float, below: float) -> None:
    found = relative_humidity(celsius, celsius - below)
    assert found == pytest.approx(saturation(celsius - below) / saturation(celsius), rel=1e-9)


# ---- temperature ------------------------------------------------------------------------------------------
@given(st.floats(-20.0, 120.0), st.floats(5.0, 20.0))
def test_halving_by_walking_a_tenth_of_a_kelvin_at_a_time(celsius: float, interval: float) -> None:
    steps = 200
    rise = (celsius - 40.0) / steps
    factor = 1.0
    for _ in range(steps):
        factor *= math.exp(math.log(2.0) * rise / interval)
    assert halving_factor(celsius, interval) == pytest.approx(factor, rel=1e-9)


@given(st.floats(10.0, 85.0), st.floats(500.0, 8000.0))
def test_the_exponential_rule_grows_as_b_over_t_squared(celsius: float, b: float) -> None:
    # d ln K/dT = B/(T + 273)^2, integrated from the base.
    grid = np.linspace(40.0, celsius, 4001)
    slope = b / (grid + 273.0) ** 2
    area = float(((slope[1:] + slope[:-1]) / 2 * np.diff(grid)).sum())
    assert exponential_factor(celsius, b) == pytest.approx(math.exp(area), rel=1e-6)


@given(st.floats(-20.0, 80.0))
def test_one_and_a_half_per_ten_kelvin_by_counting_tens(celsius: float) -> None:
    tens, rest = divmod(celsius - 20.0, 10.0)
    assert per_10k_factor(celsius) == pytest.approx(1.5 ** int(tens) * 1.5 ** (rest / 10.0), rel=1e-12)


@given(st.floats(0.3, 1.5), st.floats(0.0, 90.0))
def test_an_activation_energy_has_the_slope_of_arrhenius(energy: float, celsius: float) -> None:
    # Boltzmann's constant 8.617333262e-5 eV/K: SI 2019.
    there, h = celsius + 273.15, 1e-3
    slope = math.log(float(activation_factor(celsius + h, energy, celsius - h))) / (2 * h)
    assert slope == pytest.approx(energy / (8.617333262e-5 * there**2), rel=1e-5)


@given(st.floats(0.0, 90.0), st.floats(5.0, 20.0))
def test_the_equivalent_energy_is_found_by_search_too(celsius: float, interval: float) -> None:
    h = 1e-3
    wanted = math.log(2.0) * 2 * h / interval

    def miss(energy: float) -> float:
        return math.log(float(activation_factor(celsius + h, energy, celsius - h))) - wanted

    found = equivalent_activation_energy(celsius, interval)
    assert brentq(miss, 0.01, 5.0, xtol=1e-12) == pytest.approx(float(found), rel=1e-5)


@given(st.lists(st.floats(0.1, 5.0), min_size=2, max_size=8), st.data())
def test_a_table_is_read_between_its_rows_by_hand(logs: list[float], data: st.DataObject) -> None:
    rows = [10.0 * k for k in range(len(logs))]
    factors = [math.exp(value) for value in logs]
    at = data.draw(st.floats(rows[0], rows[-1]))
    place = max(k for k in range(len(rows) - 1) if rows[k] <= at)
    share = (at - rows[place]) / 10.0
    expected = factors[place] ** (1 - share) * factors[place + 1] ** share
    assert table_factor(at, rows, factors) == pytest.approx(expected, rel=1e-9)
    assert np.isnan(table_factor([rows[0] - 0.1, rows[-1] + 0.1], rows, factors)).all()


@given(st.integers(0, 60))
def test_a_composed_factor_by_taking_the_largest_row_that_fits(kelvin: int) -> None:
    # RD 34.45-51.300-97, section 6 (from memory): other differences by multiplying.
    table = {30: 3.40, 25: 2.75, 20: 2.25, 15: 1.84, 10: 1.50, 5: 1.22, 4: 1.17, 3: 1.13, 2: 1.08, 1: 1.04}
    expected, rest = 1.0, kelvin
    while rest:
        row = next(row for row in table if row <= rest)
        expected, rest = expected * table[row], rest - row
    rows = sorted(table)
    assert composed_factor(float(kelvin), rows, [table[row] for row in rows]) == pytest.approx(expected)


# ---- networks ---------------------------------------------------------------------------------------------
def incidence(readings: tuple[str, ...], pairs: tuple[str, ...]) -> np.ndarray:
    """Return which pair is between the live terminals of a reading and all the rest."""
    return np.array([[float((p[0] in r) != (p[1] in r)) for p in pairs] for r in readings])


@given(st.lists(OHMS, min_size=3, max_size=3))
def test_two_windings_by_the_whole_system(ohms: list[float]) -> None:
    matrix = incidence(TWO_WINDING_READINGS, TWO_WINDING_PAIRS)
    reading = matrix @ (1 / np.array(ohms))
    found = two_winding_network(1 / reading)
    np.testing.assert_allclose(found.conductance, np.linalg.solve(matrix, reading), rtol=1e-5, atol=1e-18)
    assert (np.abs(found.resistance / ohms - 1)[found.resolved] < 1e-3).all()


@given(st.lists(st.floats(1e8, 1e10), min_size=6, max_size=6))
def test_three_windings_by_the_whole_system(ohms: list[float]) -> None:
    matrix = incidence(THREE_WINDING_READINGS, THREE_WINDING_PAIRS)
    reading = matrix @ (1 / np.array(ohms))
    found = three_winding_network(1 / reading)
    solved = np.linalg.lstsq(matrix, reading, rcond=None)[0]
    np.testing.assert_allclose(found.conductance, solved, rtol=1e-6, atol=1e-16)
    np.testing.assert_allclose(found.resistance, ohms, rtol=1e-5)
    assert found.consistent
    assert found.check == pytest.approx(0.0, abs=1e-15)


@given(st.lists(st.floats(1e8, 1e10), min_size=3, max_size=3), st.lists(SHARE, min_size=3, max_size=3))
def test_the_uncertainty_of_a_pair_by_numerical_slopes(ohms: list[float], shares: list[float]) -> None:
    matrix = incidence(TWO_WINDING_READINGS, TWO_WINDING_PAIRS)
    readings = 1 / (matrix @ (1 / np.array(ohms)))
    u = readings * np.array(shares) * 1e-3
    found = two_winding_network(readings, u)
    parts = []
    for k in range(3):
        h = readings[k] * 1e-6
        up, down = readings.copy(), readings.copy()
        up[k], down[k] = up[k] + h, down[k] - h
        slope = (1 / two_winding_network(up).conductance - 1 / two_winding_network(down).conductance) / (
            2 * h
        )
        parts.append(slope * u[k])
    expected = np.sqrt((np.array(parts) ** 2).sum(axis=0))
    good = found.resolved
    np.testing.assert_allclose(found.uncertainty[good], expected[good], rtol=1e-3)


# ---- readings ---------------------------------------------------------------------------------------------
@given(
    st.lists(st.floats(0.1, 100.0), min_size=2, max_size=8),
    st.lists(OHMS, min_size=8, max_size=8),
    st.floats(0.0, 1.0),
)
def test_a_mark_between_two_readings_lies_on_their_straight_line_in_the_logarithms(
    gaps: list[float], ohms: list[float], where: float
) -> None:
    times = np.cumsum(gaps)
    mark = float(times[0] + where * (times[-1] - times[0]))
    place = max(k for k in range(len(times) - 1) if times[k] <= mark)
    t1, t2 = times[place], times[place + 1]
    share = math.log(mark / t1) / math.log(t2 / t1)
    expected = math.exp((1 - share) * math.log(ohms[place]) + share * math.log(ohms[place + 1]))
    found = at_mark(times, np.array(ohms[: len(times)]), [mark])
    assert found.value[0] == pytest.approx(expected, rel=1e-6)


@given(st.lists(st.floats(-1.0, 1.0), min_size=3, max_size=40), st.floats(1.0, 100.0))
def test_the_rate_of_a_ramp_is_the_slope_of_the_best_line(noise: list[float], rate: float) -> None:
    time = 5.0 * np.arange(len(noise))
    volts = rate * time + 0.01 * np.array(noise) + 50.0
    found = float(ramp_rate(time, volts))
    assert found == pytest.approx(float(np.polyfit(time, volts, 1)[0]), abs=0.02 / (5.0 * len(noise)) + 1e-3)


@given(st.lists(st.floats(1e-9, 1e-3), min_size=2, max_size=9))
def test_spreads_by_every_pair(currents: list[float]) -> None:
    pairs = [(max(a, b), min(a, b)) for a, b in combinations(currents, 2)]
    least, mean = min(currents), sum(currents) / len(currents)
    widest = max(a - b for a, b in pairs)
    assert leakage_spread_of_least(currents) == pytest.approx(widest / least, rel=1e-9)
    assert leakage_spread_of_mean(currents) == pytest.approx(widest / mean, rel=1e-9)
    assert phase_spread(currents) == pytest.approx(max(a / b for a, b in pairs), rel=1e-9)
    ohms = insulation_resistance(5000.0, currents)
    assert phase_spread(ohms) == pytest.approx(float(phase_spread(currents)), rel=1e-9)


@given(st.lists(st.tuples(st.floats(-10, 10), st.sampled_from((-1, 0, 1))), min_size=1, max_size=6))
def test_the_greatest_is_the_least_of_the_mirror(readings: list[tuple[float, int]]) -> None:
    values, kinds = [v for v, _ in readings], [k for _, k in readings]
    high = largest(bounded(values, kinds))
    low = smallest(bounded([-v for v in values], [-k for k in kinds]))
    np.testing.assert_array_equal(high.value, -low.value)
    np.testing.assert_array_equal(high.bound, -low.bound)


@given(st.floats(0.3, 1.2), st.floats(0.0, 0.5), st.floats(1e-9, 1e-3))
def test_three_currents_are_solved_back(n: float, share: float, at_minute: float) -> None:
    leakage = share * at_minute
    decaying = [(at_minute - leakage) * 10 ** (-n * k / 2) for k in range(3)]
    found = three_point(*(part + leakage for part in decaying))
    if found.reason == 0:
        assert found.conduction_current == pytest.approx(leakage, rel=1e-6, abs=1e-9 * at_minute)
        assert found.absorption_exponent == pytest.approx(n, rel=1e-6)
    else:
        assert share < 1e-9, "only rounding about no leakage at all may be refused"


@given(st.floats(0.2, 1.3), st.floats(0.0, 1.0), st.floats(61.0, 5000.0))
def test_the_model_of_an_index_is_a_quotient_of_currents(n: float, share: float, later: float) -> None:
    def current(time: float) -> float:
        return float((1 - share) * (time / 60.0) ** -n + share)

    found = absorption_ratio_model(n, share, later)
    assert found == pytest.approx(current(60.0) / current(later), rel=1e-9)


# ---- uncertainty ------------------------------------------------------------------------------------------
@given(SHARE, SHARE, st.floats(-1.0, 1.0))
def test_products_and_ratios_by_the_covariance_matrix(first: float, second: float, r: float) -> None:
    covariance = np.array([[first**2, r * first * second], [r * first * second, second**2]])
    for found, signs in (
        (product_uncertainty(first, second, r), np.array([1.0, 1.0])),
        (ratio_uncertainty(first, second, r), np.array([1.0, -1.0])),
    ):
        assert float(found) ** 2 == pytest.approx(float(signs @ covariance @ signs), abs=1e-12)


@given(SHARE, st.floats(0.0, 5.0), st.floats(0.02, 0.2))
def test_a_corrected_resistance_by_numerical_slope(relative: float, kelvin: float, slope: float) -> None:
    h = 1e-5
    per_kelvin = (math.exp(slope * h) - math.exp(-slope * h)) / (2 * h)
    expected = math.hypot(relative, per_kelvin * kelvin)
    assert corrected_uncertainty(relative, kelvin, slope) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("part", "limit"),
    (
        ({"of_reading": 0.05}, 0.05 * 2e9),
        ({"resolution": 1e7}, 1e7 / 2),
        ({"current_offset": 1e-9, "test_voltage": 5000.0}, (2e9) ** 2 / 5000.0 * 1e-9),
        ({"timing": 0.5, "time": 60.0, "local_slope": 0.8}, 0.8 * 2e9 * 0.5 / 60.0),
    ),
)
def test_a_stated_limit_is_the_half_width_of_a_rectangle(part: dict[str, float], limit: float) -> None:
    # JCGM 100, 4.3.7 (from memory): half width over root 3; a digit is half a step to either side.
    draws = np.random.default_rng(5).uniform(-limit, limit, 200_000)
    assert reading_uncertainty(2e9, **part) == pytest.approx(float(draws.std()), rel=5e-3)
    assert reading_uncertainty(2e9, **part) == pytest.approx(limit / math.sqrt(3), rel=1e-9)


def test_the_parts_of_an_index_are_those_of_a_simulation() -> None:
    draws = np.random.default_rng(7)
    size, r1, r2, volts = 400_000, 1e9, 3e9, 5000.0

    def flat(limit: float) -> np.ndarray:
        return draws.uniform(-limit, limit, size)

    gain, slip1, slip2, offset = flat(0.05), flat(0.5), flat(0.5), flat(2e-8)
    i1 = volts / r1 * (1 + gain) * (1 - 0.8 * slip1 / 60) * (1 + 0.01 * draws.standard_normal(size)) + offset
    i2 = volts / r2 * (1 + gain) * (1 - 0.3 * slip2 / 600) * (1 + 0.01 * draws.standard_normal(size)) + offset
    index = i1 / i2
    found = resistance_ratio_uncertainty(
        r2, r1, repeatability=0.01, of_reading=0.05, common_gain=1.0, current_offset=2e-8, test_voltage=volts,
        timing=0.5, slope_earlier=0.8, slope_later=0.3,
    )  # fmt: skip
    assert found == pytest.approx(float(index.std() / index.mean()), rel=0.02)


@given(st.floats(-8.0, 8.0))
def test_the_normal_table(z: float) -> None:
    assert normal_probability(z) == pytest.approx(float(norm.cdf(z)), rel=1e-12, abs=1e-300)


@given(st.floats(-5, 5), st.floats(0.1, 3.0), st.floats(-5, 0), st.floats(0, 5))
def test_conformity_by_quadrature(value: float, u: float, low: float, high: float) -> None:
    grid = np.linspace(low, high, 20_001)
    density = np.exp(-(((grid - value) / u) ** 2) / 2) / (u * math.sqrt(2 * math.pi))
    area = sum((a + b) / 2 * (grid[1] - grid[0]) for a, b in pairwise(density.tolist()))
    assert conformity_probability(value, u, low, high) == pytest.approx(area, abs=1e-5)


@given(st.floats(0.01, 5.0), st.floats(0.5, 0.999))
def test_a_guard_band_gives_the_probability_it_was_made_for(u: float, wanted: float) -> None:
    band = float(guard_band(u, wanted))
    assert conformity_probability(10.0 + band, u, lower=10.0) == pytest.approx(wanted, rel=1e-9)


@given(OHMS, SHARE, OHMS)
def test_conformity_of_a_resistance_hangs_on_the_ratio_only(
    ohms: float, relative: float, least: float
) -> None:
    found = resistance_conformity_probability(ohms, relative, least)
    assert found == pytest.approx(float(norm.cdf(math.log(ohms / least) / relative)), abs=1e-9)
    assert resistance_conformity_probability(10 * ohms, relative, 10 * least) == pytest.approx(
        float(found), abs=1e-9
    )


@pytest.mark.parametrize("away", (2.0, 5.0, 9.0, 15.0, 30.0))
def test_a_small_chance_keeps_its_figures(away: float) -> None:
    # Far outside a limit what is left is the tail: a difference of two numbers near 1 would lose it.
    tail = float(norm.sf(away))
    assert conformity_probability(0.0, 1.0, lower=away) == pytest.approx(tail, rel=1e-9, abs=0.0)
    assert conformity_probability(0.0, 1.0, upper=-away) == pytest.approx(tail, rel=1e-9, abs=0.0)
    between = float(norm.sf(away) - norm.sf(away + 1.0))
    assert conformity_probability(0.0, 1.0, away, away + 1.0) == pytest.approx(between, rel=1e-9, abs=0.0)


@given(st.floats(0.1, 1.2), st.floats(0.0, 0.9), st.floats(0.2, 2.0))
def test_a_late_reading_costs_an_index_its_local_slope(n: float, share: float, late: float) -> None:
    # R falls behind by slope times dt/t: 1 s late at 60 s costs n/60, 1.3 % at n = 0.8 without leakage (derived).
    def ohms(time: float) -> float:
        return float(1.0 / ((1 - share) * (time / 60.0) ** -n + share))

    h = 1e-4
    slope = (math.log(ohms(60.0 * (1 + h))) - math.log(ohms(60.0 * (1 - h)))) / (2 * h)
    assert slope == pytest.approx(n * (1 - share), rel=1e-4)
    found = resistance_ratio_uncertainty(ohms(600.0), ohms(60.0), timing=late, slope_earlier=slope)
    assert found == pytest.approx(abs(slope) * late / 60.0 / math.sqrt(3.0), rel=1e-6)


@given(st.floats(1.5, 8.0), st.floats(1e-12, 1e-10))
def test_an_offset_costs_an_index_more_the_higher_it_is(index: float, offset: float) -> None:
    # -I0 (PI - 1)/I60 relative (derived): by recomputing the index with the offset in both currents.
    volts, r60 = 5000.0, 1e9
    i60 = volts / r60
    i600 = i60 / index
    changed = (i60 + offset) / (i600 + offset) / index - 1
    assert changed == pytest.approx(-offset * (index - 1) / i60, rel=0.2)
    found = resistance_ratio_uncertainty(index * r60, r60, current_offset=offset, test_voltage=volts)
    assert found == pytest.approx(offset * (index - 1) / i60 / math.sqrt(3.0), rel=1e-9)
