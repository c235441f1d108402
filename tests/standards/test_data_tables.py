"""Tables of the criteria files, held against a second copy of what each source prints.

Sources and statuses stand beside each table: read, secondary (reported by others), memory, derived.
"""

from __future__ import annotations

import math

import pytest

from soakage.standards.criterion import TemperatureRule
from soakage.standards.library import library
from soakage.standards.temperature import factor

RULES = library().temperature_rules
CRITERIA = library().criteria
TABLES = library().voltage_tables

# ANSI/NETA ATS-2025 Table 100.14.1 (secondary) and 100.14.2 (rows memory): degC, oil-immersed, solid
NETA_14_1 = """
-10 0.125 0.25   -5 0.180 0.32    0 0.25 0.40     5 0.36 0.50    10 0.50 0.63    15 0.75 0.81
20 1.00 1.00     25 1.40 1.25    30 1.98 1.58    35 2.80 2.00    40 3.95 2.50    45 5.60 3.15
50 7.85 3.98     55 11.20 5.00   60 15.85 6.30   65 22.40 7.90   70 31.75 10.00  75 44.70 12.60
80 63.50 15.80   85 89.789 20.00 90 127.00 25.20 95 180.00 31.60 100 245.00 40.00
105 359.15 50.40 110 509.00 63.20
"""
NETA_14_2 = """
-10 0.03 0.10   -5 0.04 0.13    0 0.06 0.16     5 0.09 0.20    10 0.13 0.25    15 0.18 0.31
20 0.25 0.40    25 0.35 0.50    30 0.50 0.63    35 0.71 0.79    40 1.00 1.00   45 1.41 1.26
50 2.00 1.59    55 2.83 2.00    60 4.00 2.52    65 5.66 3.17    70 8.00 4.00   75 11.31 5.04
80 16.00 6.35   85 22.63 8.00   90 32.00 10.08  95 45.25 12.70 100 64.00 16.00
105 90.51 20.16 110 128.00 25.40
"""
# FED-STD-228A method 6031 Table I (read): degF; R and RW; T and TW; RH
FED_228A = """
50 0.60 0.79 0.73  51 0.63 0.81 0.76  52 0.67 0.82 0.78  53 0.71 0.84 0.80  54 0.75 0.86 0.83
55 0.79 0.88 0.86  56 0.82 0.90 0.88  57 0.86 0.92 0.91  58 0.90 0.95 0.94  59 0.95 0.97 0.97
60 1.00 1.00 1.00  61 1.05 1.03 1.03  62 1.10 1.06 1.07  63 1.16 1.10 1.10  64 1.22 1.14 1.13
65 1.28 1.19 1.17  66 1.34 1.23 1.20  67 1.41 1.27 1.24  68 1.48 1.33 1.28  69 1.55 1.39 1.32
70 1.63 1.46 1.36  71 1.71 1.55 1.40  72 1.80 1.67 1.45  73 1.89 1.78 1.50  74 1.98 1.91 1.55
75 2.08 2.06 1.59  76 2.18 2.23 1.64  77 2.29 2.39 1.69  78 2.40 2.56 1.75  79 2.52 2.75 1.80
80 2.65 2.93 1.86
"""


def columns(text: str, width: int) -> list[list[float]]:
    figures = [float(word) for word in text.split()]
    return [list(figures[start : start + width]) for start in range(0, len(figures), width)]


def cases(text: str, names: tuple[str, ...]) -> list[tuple[str, float, float]]:
    return [
        (name, row[0], row[1 + place])
        for place, name in enumerate(names)
        for row in columns(text, 1 + len(names))
    ]


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


def found(rule: TemperatureRule, temperature: float, base: float) -> float:
    value = factor(rule, temperature, base).value
    assert value is not None
    return value


@pytest.mark.parametrize(
    ("name", "temperature", "printed"), cases(NETA_14_1, ("neta-100-14-1.oil", "neta-100-14-1.solid"))
)
def test_neta_factors_to_20_degc_are_the_printed_ones(name: str, temperature: float, printed: float) -> None:
    assert found(RULES[name], temperature, 20.0) == pytest.approx(printed, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "temperature", "printed"), cases(NETA_14_2, ("neta-100-14-2.oil", "neta-100-14-2.solid"))
)
def test_neta_factors_to_40_degc_are_the_printed_ones(name: str, temperature: float, printed: float) -> None:
    assert found(RULES[name], temperature, 40.0) == pytest.approx(printed, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "fahrenheit", "printed"),
    cases(FED_228A, ("fed-std-228a.r-rw", "fed-std-228a.t-tw", "fed-std-228a.rh")),
)
def test_federal_cable_factors_are_the_printed_ones(name: str, fahrenheit: float, printed: float) -> None:
    assert found(RULES[name], celsius(fahrenheit), celsius(60)) == pytest.approx(printed, rel=1e-9)


def test_the_tables_have_all_their_rows() -> None:
    assert len(columns(NETA_14_1, 3)) == len(columns(NETA_14_2, 3)) == 25
    assert len(columns(FED_228A, 4)) == 31
    for name in ("neta-100-14-1.oil", "neta-100-14-2.solid"):
        assert len(RULES[name].pieces[0].factors) == 25
    assert len(RULES["fed-std-228a.rh"].pieces[0].factors) == 31


def test_between_two_rows_the_logarithm_is_interpolated() -> None:
    # ln K linear: half way between two rows is their geometric mean
    assert found(RULES["neta-100-14-1.oil"], 42.5, 20.0) == pytest.approx(math.sqrt(3.95 * 5.60))


# How near the printed rows come to a formula (derived); the oddities are kept as printed.
def departures(name: str, per: float, base: float) -> dict[float, float]:
    piece = RULES[name].pieces[0]
    return {
        t: k / 2 ** ((t - base) / per) - 1 for t, k in zip(piece.temperatures, piece.factors, strict=True)
    }


def test_oil_factors_depart_from_halving_per_10_k_as_known() -> None:
    found_at = departures("neta-100-14-1.oil", 10, 20)
    assert found_at[15] == pytest.approx(0.061, abs=5e-4)
    assert found_at[100] == pytest.approx(-0.043, abs=5e-4)
    assert max(abs(d) for t, d in found_at.items() if t not in (15, 100)) < 0.0205


def test_solid_factors_depart_from_halving_per_15_k_as_known() -> None:
    found_at = departures("neta-100-14-1.solid", 15, 20)
    assert found_at[15] == pytest.approx(0.021, abs=5e-4)
    assert max(abs(d) for t, d in found_at.items() if t != 15) < 0.016


@pytest.mark.parametrize(("name", "per"), (("neta-100-14-2.oil", 10), ("neta-100-14-2.solid", 15)))
def test_factors_to_40_degc_are_a_halving_to_two_decimals(name: str, per: float) -> None:
    piece = RULES[name].pieces[0]
    for temperature, printed in zip(piece.temperatures, piece.factors, strict=True):
        assert printed == pytest.approx(2 ** ((temperature - 40) / per), abs=0.00501)


def test_the_two_neta_tables_must_not_be_chained() -> None:
    # 1 / 3.95 from 100.14.1 against 0.25 from 100.14.2 (derived)
    there = found(RULES["neta-100-14-1.oil"], 40.0, 20.0)
    back = found(RULES["neta-100-14-2.oil"], 20.0, 40.0)
    assert 1 / there == pytest.approx(0.2532, abs=5e-5)
    assert back == 0.25


@pytest.mark.parametrize(
    ("name", "per_degree", "within"),
    (("fed-std-228a.r-rw", 1.050, 0.006), ("fed-std-228a.rh", 1.032, 0.006)),
)
def test_rubber_factors_are_a_constant_per_fahrenheit(name: str, per_degree: float, within: float) -> None:
    factors = RULES[name].pieces[0].factors
    assert (factors[-1] / factors[0]) ** (1 / 30) == pytest.approx(per_degree, abs=within)


def test_thermoplastic_cable_factors_are_no_exponential() -> None:
    # about 1.02 per degF below 60 degF, about 1.08 near 75 degF (derived from the printed rows)
    factors = RULES["fed-std-228a.t-tw"].pieces[0].factors
    assert (factors[10] / factors[0]) ** (1 / 10) == pytest.approx(1.024, abs=0.002)
    assert (factors[27] / factors[23]) ** (1 / 4) == pytest.approx(1.078, abs=0.005)


# NETA Table 100.14 note (secondary): 2 MOhm at 40 degC is 7.9 MOhm at 20 degC in oil.
def test_the_printed_example_of_the_oil_table() -> None:
    assert 2 * found(RULES["neta-100-14-1.oil"], 40.0, 20.0) == pytest.approx(7.9)


# FED-STD-228A (rows read, product derived): type R, 100 MOhm per 1000 ft at 75 degF is 208.
def test_a_federal_correction_by_hand() -> None:
    assert 100 * found(RULES["fed-std-228a.r-rw"], celsius(75), celsius(60)) == pytest.approx(208)


# K to 40 degC of machine windings: halving per 10 K and the two-range rule of 2013 (derived).
MACHINE = """
10 0.1250 0.6560   15 0.1768 0.7080   20 0.2500 0.7622   25 0.3536 0.8186   30 0.5000 0.8770
35 0.7071 0.9375   40 1 1             45 1.4142 1.2368   50 2 1.5195        60 4 2.2517
70 8 3.2609        75 11.3137 3.8931  85 22.6274 5.4670
"""


@pytest.mark.parametrize(
    ("name", "temperature", "printed"),
    cases(MACHINE, ("ieee-43-2013.thermoplastic", "ieee-43-2013.thermosetting")),
)
def test_machine_factors(name: str, temperature: float, printed: float) -> None:
    assert found(RULES[name], temperature, 40.0) == pytest.approx(printed, abs=5.1e-5)


def test_thermosetting_pieces_meet_at_the_base() -> None:
    for side in (40 - 1e-9, 40.0, 40 + 1e-9):
        assert found(RULES["ieee-43-2013.thermosetting"], side, 40.0) == pytest.approx(1.0, abs=1e-8)


@pytest.mark.parametrize("temperature", (9.9, 85.1, -5.0, 120.0))
def test_outside_its_range_the_thermosetting_rule_gives_nothing(temperature: float) -> None:
    outcome = factor(RULES["ieee-43-2013.thermosetting"], temperature, 40.0)
    assert outcome.value is None
    assert "outside the range" in outcome.reason


def test_the_halving_is_flagged_beyond_30_k() -> None:
    rule = RULES["ieee-43-2013.thermoplastic"]
    assert factor(rule, 10.0, 40.0).flag == ""
    assert factor(rule, 70.0, 40.0).flag == ""
    assert factor(rule, 70.1, 40.0).flag != ""


def test_the_choice_of_rule_decides() -> None:
    # 100 MOhm at 20 degC is 25.0 or 76.2 MOhm at 40 degC (derived)
    assert 100 * found(RULES["ieee-43-2013.thermoplastic"], 20.0, 40.0) == pytest.approx(25.0)
    assert 100 * found(RULES["ieee-43-2013.thermosetting"], 20.0, 40.0) == pytest.approx(76.2, abs=0.05)


# Navy rule to 25 degC, MIL-M-17413A (read; values derived)
@pytest.mark.parametrize(("temperature", "expected"), ((10, 0.5), (25, 1), (40, 2), (55, 4), (70, 8)))
def test_navy_factors(temperature: float, expected: float) -> None:
    assert found(RULES["mil-m-17413a.halving"], temperature, 25.0) == pytest.approx(expected)


# Printed factors by temperature difference: GB 50150 and RD 34.45 (memory) against 1.5 per 10 K (derived)
def test_gb_rows_equal_the_rule_to_rounding_up_to_45_k_and_are_low_beyond() -> None:
    rows = library().references["gb-50150-2006.factor-table"].rows
    for difference, printed in ((float(d), float(p)) for d, p in rows):
        exact = found(RULES["gb-50150-2006.transformer"], 20 + difference, 20.0)
        if difference <= 45:
            assert printed == pytest.approx(exact, abs=0.051)
        else:
            assert printed < exact - 0.05
    assert len(rows) == 12


def test_rd_rows_equal_the_rule_within_1_percent() -> None:
    rows = library().references["rd-34-45-1997.factor-table"].rows
    for difference, printed in ((float(d), float(p)) for d, p in rows):
        exact = found(RULES["rd-34-45-1997.transformer"], 20 + difference, 20.0)
        assert printed == pytest.approx(exact, rel=0.01)
    assert len(rows) == 10


def test_the_oil_rules_disagree_and_both_are_kept() -> None:
    # 20 to 40 degC: 3.95 (NETA) against 2.25 (GB, RD)
    assert found(RULES["neta-100-14-1.oil"], 40.0, 20.0) == pytest.approx(3.95)
    assert found(RULES["gb-50150-2006.transformer"], 40.0, 20.0) == pytest.approx(2.25)


@pytest.mark.parametrize("name", RULES)
def test_each_rule_gives_its_own_examples(name: str) -> None:
    rule = RULES[name]
    assert rule.examples
    for temperature, base, expected in rule.examples:
        assert found(rule, temperature, base) == pytest.approx(expected, abs=5.1e-5, rel=1e-9)


@pytest.mark.parametrize("name", RULES)
def test_at_its_base_a_rule_changes_nothing(name: str) -> None:
    rule = RULES[name]
    base = rule.base if rule.base is not None else 20.0
    assert found(rule, base, base) == pytest.approx(1.0, abs=1e-12)


# Tables of minima


def rows(name: str) -> list[tuple[float, float]]:
    """Return (V, MOhm) rows of a criterion."""
    return [(key, round(limit / 1e6, 6)) for key, limit in CRITERIA[name].rows]


# ANSI/NETA MTS-2019 and ATS-2025 Table 100.1 (secondary): V rating, V dc, MOhm
NETA_1 = (
    (250, 500, 25),
    (600, 1000, 100),
    (1000, 1000, 100),
    (2500, 1000, 500),
    (5000, 2500, 1500),
    (8000, 2500, 2500),
    (15000, 2500, 5000),
    (25000, 5000, 10000),
    (34500, 5000, 100000),
    (46000, 5000, 100000),
)


@pytest.mark.parametrize("name", ("apparatus", "cable"))
def test_neta_minima(name: str) -> None:
    criterion = CRITERIA[f"neta-100-1.minimum-resistance.{name}"]
    assert rows(criterion.id) == [(volts, megohms) for volts, _, megohms in NETA_1]
    assert criterion.beyond_last
    assert criterion.row_rule == "next-higher"
    assert criterion.base_temperature == pytest.approx(293.15)


def test_earlier_neta_minima_differ_in_three_rows() -> None:
    # ATS-2009, MTS-2007 (memory): 5 kV 1 000, 8 kV 2 000, 25 kV 20 000 MOhm
    older = dict(rows("neta-ats-2009.minimum-resistance.apparatus"))
    newer = dict(rows("neta-100-1.minimum-resistance.apparatus"))
    assert {key: limit for key, limit in older.items() if newer[key] != limit} == {
        5000: 1000,
        8000: 2000,
        25000: 20000,
    }


def test_mts_2019_prints_its_ninth_row_at_34_kv() -> None:
    printed = [key for key, _ in rows("neta-mts-2019.apparatus-minimum-resistance.table-100-1")]
    assert printed == [34000 if volts == 34500 else volts for volts, _, _ in NETA_1]


@pytest.mark.parametrize(
    ("name", "megohms"), (("liquid-filled", (100, 1000, 5000)), ("dry", (500, 5000, 25000)))
)
def test_transformer_minima(name: str, megohms: tuple[float, ...]) -> None:
    # ANSI/NETA ATS-2025 Table 100.5 (secondary): to 600 V, to 5 000 V, above
    found_rows = rows(f"neta-100-5.minimum-resistance.{name}")
    assert [limit for _, limit in found_rows] == list(megohms)
    assert [key for key, _ in found_rows[:2]] == [600, 5000]
    assert CRITERIA[f"neta-100-5.minimum-resistance.{name}"].beyond_last


@pytest.mark.parametrize(
    ("name", "megohms"),
    (
        ("from-66-kv", (600, 300, 150, 75)),
        ("22-to-33-kv", (500, 250, 125, 65)),
        ("6-6-to-11-kv", (400, 200, 100, 50)),
        ("below-6-6-kv", (200, 100, 50, 25)),
    ),
)
def test_tutorial_minima_by_temperature(name: str, megohms: tuple[float, ...]) -> None:
    # an engineering tutorial, resembles Indian practice (secondary, weak): at 30, 40, 50, 60 degC
    criterion = CRITERIA[f"transformer-tutorial.minimum-resistance.{name}"]
    kelvins, limits = zip(*criterion.rows, strict=True)
    assert [round(t - 273.15, 6) for t in kelvins] == [30, 40, 50, 60]
    assert [limit / 1e6 for limit in limits] == list(megohms)
    assert criterion.row_rule == "ln-interpolated"


# Insulation constants, MOhm 1000 ft at 15.6 degC (memory)
@pytest.mark.parametrize(
    ("name", "constant"),
    (
        ("impregnated-paper", 2640),
        ("varnished-cambric", 2460),
        ("code-rubber", 950),
        ("heat-resistant-rubber", 10560),
        ("pvc-60", 500),
        ("pvc-75", 2000),
        ("butyl", 10000),
        ("epr", 20000),
        ("xlpe", 20000),
        ("xlpe-to-2-kv", 10000),
        ("polyethylene", 50000),
    ),
)
def test_insulation_constants(name: str, constant: float) -> None:
    criterion = CRITERIA[f"icea-s-series.minimum-resistance.{name}"]
    assert criterion.coefficients == {"K": constant}
    assert criterion.base_temperature == pytest.approx(273.15 + 15.6, abs=0.05)
