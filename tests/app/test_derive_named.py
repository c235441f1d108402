"""What a method names among its quantities is formed without further code."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soakage.app.derive import Quantities, derive_resistances
from soakage.app.window import hold_window
from soakage.methods import method
from soakage.methods.base import Mark
from soakage.physics.currents import staircase_current
from typed import HEALTHY, sampled

RECORD = sampled()
OWN = replace(
    method("polarization-index"), id="five-minute-resistance", marks=(Mark(60.0),),
    quantities=("resistance_ratio_300s_60s", "resistance_ratio_240s_90s", "insulation_resistance_200s"),
)  # fmt: skip


def found(quantities: tuple[str, ...]) -> Quantities:
    made = Quantities()
    own = replace(OWN, quantities=quantities)
    derive_resistances(RECORD, own, hold_window(RECORD, own, 0.01, None), (), made)
    return made


def current(time: float) -> float:
    """Current per volt, the charging of the capacitance over."""
    return float(staircase_current(HEALTHY, np.array([time]), [0.0], [1.0])[0])


@pytest.mark.parametrize(("name", "later", "earlier"), (("resistance_ratio_300s_60s", 300.0, 60.0),
                                                         ("resistance_ratio_240s_90s", 240.0, 90.0)))  # fmt: skip
def test_a_ratio_named_is_formed(name: str, later: float, earlier: float) -> None:
    assert found(OWN.quantities).values[name].value == pytest.approx(
        current(earlier) / current(later), rel=1e-6
    )


def test_a_resistance_named_is_formed_without_a_mark_of_its_own() -> None:
    assert found(OWN.quantities).values["insulation_resistance_200s"].value == pytest.approx(
        1 / current(200.0), rel=1e-6
    )


def test_what_is_not_named_is_not() -> None:
    plain = found(())
    for name in OWN.quantities:
        assert name not in plain.values
    assert "polarization_index" in plain.values, "the ratios of the trade always are"
