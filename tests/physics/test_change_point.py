"""A change of level: against every order of the readings, and a river of which the change is known."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from soakage.physics.change_point import level_shift

# Annual flow of the Nile at Aswan in 10^8 cubic metres, 1871 to 1970 (Cobb, Biometrika 65 (1978) 243; data from
# memory). Its level fell after 1898.
NILE = (
    "1120 1160 963 1210 1160 1160 813 1230 1370 1140 995 935 1110 994 1020 960 1180 799 958 1140 1100 1210 1150 1250 "
    "1260 1220 1030 1100 774 840 874 694 940 833 701 916 692 1020 1050 969 831 726 456 824 702 1120 1100 832 764 821 "
    "768 845 864 862 698 845 744 796 1040 759 781 865 845 944 984 897 822 1010 771 676 649 846 812 742 801 1040 860 "
    "874 848 890 744 749 838 1050 918 986 797 923 975 815 1020 906 901 1170 912 746 919 718 714 740"
)


def statistic(order: tuple[int, ...]) -> int:
    """K by the ranks, as the manual of the R package trend writes it."""
    n = len(order)
    ranks = np.argsort(np.argsort(order)) + 1
    return int(np.abs(2 * np.cumsum(ranks) - np.arange(1, n + 1) * (n + 1)).max())


def test_the_nile_fell_after_1898() -> None:
    flow = [float(word) for word in NILE.split()]
    assert len(flow) == 100
    found = level_shift(np.arange(1871, 1971), flow)
    assert 1871 + int(found.place) - 1 == 1898
    assert found.size < -200
    assert found.p < 1e-6
    assert bool(found.beats_line)


@pytest.mark.parametrize("count", (3, 4, 5, 6))
def test_the_chance_is_that_of_all_orders(count: int) -> None:
    orders = list(itertools.permutations(range(count)))
    scores = np.array([statistic(order) for order in orders])
    found = level_shift(np.arange(count), np.array(orders, dtype=float))
    np.testing.assert_array_equal(found.statistic, scores)
    for score, p in {(int(s), float(p)) for s, p in zip(scores, found.p, strict=True)}:
        assert p == pytest.approx((scores >= score).mean())


def test_the_published_approximation_takes_over_and_is_the_more_cautious() -> None:
    steps = np.r_[np.zeros(9), np.ones(9)] + 0.01 * np.arange(18) % 0.07
    found = level_shift(np.arange(18), steps)
    assert found.p == pytest.approx(2 * np.exp(-6 * found.statistic**2 / (18**3 + 18**2)))
    shorter = level_shift(np.arange(16), steps[1:-1])
    assert shorter.p < 2 * np.exp(-6 * shorter.statistic**2 / (16**3 + 16**2))


@pytest.mark.parametrize("size", (-1.5, 0.8))
@pytest.mark.parametrize("place", (4, 6, 8))
def test_a_step_is_found_where_it_is_with_its_size(place: int, size: float) -> None:
    noise = 0.03 * np.random.default_rng(place).normal(size=12)
    found = level_shift(np.arange(12.0), noise + np.where(np.arange(12) >= place, size, 0.0))
    assert int(found.place) == place
    assert found.size == pytest.approx(size, abs=0.08)
    assert found.p < 0.05
    assert bool(found.beats_line)


def test_a_steady_slope_is_significant_but_no_change_of_level() -> None:
    t = np.arange(15.0)
    found = level_shift(t, -0.2 * t + 0.05 * np.random.default_rng(0).normal(size=15))
    assert found.p < 0.05
    assert not found.beats_line


def test_eight_readings_can_show_a_change_though_the_approximation_never_would() -> None:
    found = level_shift(np.arange(8.0), [1.0, 1.1, 0.9, 1.05, 0.1, 0.2, 0.0, 0.15])
    assert found.p == pytest.approx(1 / 35)  # 2 of the 70 ways to part eight ranks in halves
    assert 2 * np.exp(-6 * 16**2 / (8**3 + 8**2)) > 0.05


def test_bounds_count_only_where_they_decide() -> None:
    value = np.array([3.0, 3.0, 3.0, 3.0, 1.0, 1.1, 0.9, 1.0])
    over = np.array([1, 1, 1, 1, 0, 0, 0, 0], np.int8)
    found = level_shift(np.arange(8.0), value, over)
    assert int(found.place) == 4
    assert found.size <= -1.9
    assert found.p < 0.05
    open_ = level_shift(np.arange(8.0), np.where(over, 0.5, 1.0), over)
    assert open_.statistic == 0
    assert open_.p == 1


def test_missing_readings_are_left_out_and_places_stay_those_given() -> None:
    value = np.array([1.0, np.nan, 1.1, 0.9, 1.0, np.nan, 0.1, 0.2, 0.0, 0.15])
    found = level_shift(np.arange(10.0), value)
    alone = level_shift(np.flatnonzero(np.isfinite(value)), value[np.isfinite(value)])
    assert int(found.place) == 6
    assert found.p == alone.p
    assert found.size == pytest.approx(float(alone.size))


def test_a_batch_is_its_members() -> None:
    value = np.random.default_rng(3).normal(size=(2, 3, 9))
    whole = level_shift(np.arange(9.0), value)
    for place in np.ndindex(2, 3):
        alone = level_shift(np.arange(9.0), value[place])
        np.testing.assert_allclose([part[place] for part in whole], [float(part) for part in alone])


@pytest.mark.parametrize("values", ([1.0], [1.0, 2.0], [np.nan] * 4))
def test_too_few_say_nothing(values: list[float]) -> None:
    found = level_shift(np.arange(len(values)), values)
    assert np.isnan(found.p)
    assert not found.beats_line
