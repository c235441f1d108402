"""The discharge held against the charge: healthy foretold, layers found, conduction from both currents."""

from __future__ import annotations

import numpy as np
import pytest

from soakage.app.contract_json import evaluation_json
from soakage.app.evaluate import evaluate
from soakage.app.result import Evaluated
from soakage.model.record import Record
from soakage.physics.discharge_model import foretold_current
from soakage.quantities import lookup
from typed import MACHINE, codes, judged, said, typed

A, N, G, HELD = 2e-9 * 60**0.8, 0.8, 2e-10, 1800.0
KEYS = {**MACHINE, "method": "dielectric-discharge", "discharge_started": "1800 s", "capacitance": "0.2 uF"}
NAME = "conductance_from_discharge"
_CHARGE = np.concatenate([np.arange(5.0, 61.0, 5.0), np.arange(75.0, 1801.0, 15.0)])
_AFTER = np.concatenate([np.arange(5.0, 61.0, 5.0), np.arange(75.0, 601.0, 15.0)])


def shorted(
    *, times: float = 1.0, conductance: float = G, noise: float = 0.0, exponent: float = N,
    charge: np.ndarray = _CHARGE, after: np.ndarray = _AFTER, polarity: float = 1.0, seed: int = 2,
) -> Record:  # fmt: skip
    """Charge half an hour at 5 kV, then short; `times` is how many times too much comes back."""
    a = 2e-9 * 60**exponent
    up = 5e3 * (a * charge**-exponent + conductance)
    down = -5e3 * times * a * (after**-exponent - (after + HELD) ** -exponent)
    current = np.concatenate([up, down])
    current = current * (1 + noise * np.random.default_rng(seed).standard_normal(current.size)) * polarity
    time = np.concatenate([charge, HELD + after])
    volts = np.where(time <= HELD, 5000.0 * polarity, 0.0)
    rows = [(f"{t:g}", f"{v:g}", f"{i:.9g}") for t, v, i in zip(time, volts, current, strict=True)]
    return typed(KEYS, rows, "time [s],voltage [V],current [A]")


def value(evaluated: Evaluated) -> float:
    return evaluated.quantities[NAME].value


@pytest.mark.parametrize("noise", (0.0, 0.01))
@pytest.mark.parametrize("exponent", (0.6, 0.8, 1.0))
def test_a_linear_insulation_gives_back_what_the_charge_foretells(exponent: float, noise: float) -> None:
    evaluated = judged(shorted(exponent=exponent, noise=noise))
    assert evaluated.fit is not None
    assert evaluated.fit.follows_model
    assert "discharge_beyond_fit" not in codes(evaluated)


@pytest.mark.parametrize("times", (1.7, 2.0, 4.0))
def test_more_than_half_as_much_again_is_told_with_its_figure(times: float) -> None:
    evaluated = judged(shorted(times=times, noise=0.003))
    (finding,) = [f for f in evaluated.findings if f.code == "discharge_beyond_fit"]
    assert finding.status is None, "it informs"
    ratio = float(said(evaluated, "discharge_beyond_fit").split(" times the ")[0].split()[-1])
    assert ratio == pytest.approx(times, rel=0.06)
    assert "±" in finding.sentence


@pytest.mark.parametrize("times", (0.5, 1.4))
def test_less_is_not(times: float) -> None:
    assert "discharge_beyond_fit" not in codes(judged(shorted(times=times, noise=0.003)))


def test_a_charge_that_says_little_foretells_little() -> None:
    # The prediction's doubt counts: noise of a tenth on a few readings, and 1.55 times is no finding.
    few = np.geomspace(5.0, 1800.0, 12)
    evaluated = judged(shorted(times=1.55, noise=0.1, charge=few))
    assert "discharge_beyond_fit" not in codes(evaluated)


def test_the_doubt_of_the_prediction_is_that_of_many_fits() -> None:
    rng = np.random.default_rng(7)
    covariance = np.array([[(0.02 * A) ** 2, 0.9 * 0.02 * A * 0.004], [0.9 * 0.02 * A * 0.004, 0.004**2]])
    drawn = rng.multivariate_normal([0.0, 0.0], covariance, 20_000)
    each = 5e3 * (A + drawn[:, 0]) * (60.0 ** -(N + drawn[:, 1]) - 1860.0 ** -(N + drawn[:, 1]))
    current, doubt = foretold_current(5e3, HELD, A, N, covariance)
    assert current == pytest.approx(each.mean(), rel=1e-3)
    assert doubt == pytest.approx(each.std(), rel=0.03)


@pytest.mark.parametrize("noise", (0.0, 0.003))
@pytest.mark.parametrize("conductance", (1e-10, 2e-10, 1e-9))
def test_both_currents_leave_the_conduction(conductance: float, noise: float) -> None:
    evaluated = judged(shorted(conductance=conductance, noise=noise))
    assert value(evaluated) == pytest.approx(conductance, rel=0.02 if noise == 0.0 else 0.1)
    # the plain sum keeps A (t + tc)^-n in it: 2^-n of the absorption current at t = tc (derived)
    assert "residue taken off at the last" in evaluated.quantities[NAME].inputs


def test_the_plain_sum_of_both_currents_would_overstate_it() -> None:
    record = shorted()
    time, current = record.readings.time, record.readings.current
    plain = (np.interp(600.0, time[time <= HELD], current[time <= HELD]) + current[-1]) / 5e3
    assert plain == pytest.approx(G + A * 2400.0**-N, rel=1e-3)
    assert plain > 1.4 * G
    assert value(judged(record)) == pytest.approx(G, rel=0.02)


def test_no_uncertainty_is_made_of_scatter_alone() -> None:
    assert judged(shorted(noise=0.01)).quantities[NAME].uncertainty is None


def test_either_polarity_gives_the_same() -> None:
    assert value(judged(shorted(polarity=-1.0))) == pytest.approx(value(judged(shorted())))


def missing(record: Record) -> bool:
    return NAME not in judged(record).quantities


def test_where_it_cannot_be_had_it_is_absent() -> None:
    assert missing(shorted(after=np.array([30.0, 60.0]))), "two common times"
    assert missing(shorted(conductance=0.0, noise=0.01)), "drowned in the scatter"
    assert missing(shorted(after=np.array([60.0]))), "the reading of the index alone"
    rising = shorted()
    current = rising.readings.current.copy()
    current[:120] = 1e-6 * (1 + np.arange(120) / 60)
    rows = [
        (f"{t:g}", 5000 if t <= HELD else 0, f"{i:.9g}")
        for t, i in zip(rising.readings.time, current, strict=True)
    ]
    assert missing(typed(KEYS, rows, "time [s],voltage [V],current [A]")), "no model, no figure"


def test_other_methods_have_none() -> None:
    record = shorted()
    rows = [(f"{t:g}", 5000, f"{5e3 * (A * t**-N + G):.9g}") for t in record.readings.time if t <= HELD]
    assert missing(typed(MACHINE, rows, "time [s],voltage [V],current [A]"))


def test_it_stands_in_json_and_glossary() -> None:
    (printed,) = evaluation_json(evaluate([shorted()]))["records"]
    assert printed["quantities"][NAME]["unit"] == "S"
    assert lookup(NAME).verified == "derived"


def test_layers_are_the_first_cause_of_it_where_causes_are_sought() -> None:
    # an index that is good, a discharge that is not: the reading above its edge is what makes them sought
    evaluated = judged(shorted(times=6.0, noise=0.002))
    assert evaluated.causes_sought
    assert evaluated.causes[0].cause.id == "weak-layer"
    assert any("charging current foretells" in text for text in evaluated.causes[0].pro)
