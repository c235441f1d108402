"""What is worked out once for many records is what each record would have got alone."""

from __future__ import annotations

import numpy as np
import pytest

from soakage.app.evaluate import evaluate
from soakage.app.window import middle
from soakage.errors import InputError
from soakage.importers.reading import read_bytes
from soakage.standards.library import library
from soakage.units import Bound, Measured, format_quantity, parse

_HEAD = """\
# soakage = 1
# asset = "Bench winding {number}"
# class = "rotating-machine"
# rated_voltage = "6.6 kV"
# method = "polarization-index"
# test_voltage = "5 kV"
# winding_temperature = "{celsius} degC"
"""


def _file(number: int, exponent: float) -> bytes:
    """A current falling by a power law beside a leakage of 1 uA, read every 5 s for ten minutes."""
    time = np.arange(5.0, 601.0, 5.0)
    current = 10.0 * (time / 60.0) ** -exponent + 1.0
    rows = "\n".join(f"{t:g},5000,{i:.6g}" for t, i in zip(time, current, strict=True))
    return f"{_HEAD.format(number=number, celsius=20 + number)}time [s],voltage [V],current [uA]\n{rows}\n".encode()


@pytest.mark.parametrize("size", (1, 2, 3, 4, 9, 10, 601))
def test_the_middle_of_some_values_is_their_median(size: int) -> None:
    # the general routine of numpy is the reference
    values = np.random.default_rng(size).lognormal(size=size)
    assert middle(values) == np.median(values)


def test_what_is_no_number_has_no_middle() -> None:
    assert np.isnan(middle(np.array([3.0, np.nan, 1.0])))


def test_a_record_among_others_gets_what_it_gets_alone() -> None:
    records = [read_bytes(_file(k, 0.5 + 0.1 * k), f"{k}.csv")[0] for k in range(6)]
    together = evaluate(records).records
    lengthened = 0
    for record, among in zip(records, together, strict=True):
        (alone,) = evaluate([record]).records
        assert alone.quantities.keys() == among.quantities.keys()
        for name, quantity in alone.quantities.items():
            assert among.quantities[name].value == pytest.approx(quantity.value, rel=1e-9), name
        assert [j.status for j in alone.judgements] == [j.status for j in among.judgements]
        assert alone.verdict == among.verdict
        lengthened += alone.quantities["earthing_time"].value > 4 * 600 * (1 + 1e-9)
    # exponents of 0.5 to 1: the slow ones need longer than four times the 600 s, the fast ones don't
    assert 0 < lengthened < len(records)


def test_an_earthing_time_lengthened_leaves_one_hundredth_of_the_absorption_current() -> None:
    # superposition of a power law, t^n [(t + t_r)^-n - (t + t_r + t_c)^-n] at 60 s; derived
    (record,) = evaluate(list(read_bytes(_file(0, 0.5), "0.csv"))).records
    n, rest = (record.quantities[name].value for name in ("absorption_exponent_fitted", "earthing_time"))
    assert 60**n * ((60 + rest) ** -n - (660 + rest) ** -n) == pytest.approx(0.01, rel=1e-6)


def test_every_criterion_stands_under_its_id_and_under_its_group_in_the_order_of_the_files() -> None:
    shelf = library()
    for criterion in shelf.criteria.values():
        assert shelf.members(criterion.id) == tuple(
            c for c in shelf.criteria.values() if criterion.id in (c.id, c.group)
        )
        assert shelf.members(criterion.group) == tuple(
            c for c in shelf.criteria.values() if criterion.group in (c.id, c.group)
        )


@pytest.mark.parametrize("above", (0, 3))
def test_a_header_line_met_before_is_blamed_where_it_stands_now(above: int) -> None:
    # the same wrong line in file after file: each fault names its own file and row
    wrong = "# class = turbine boat\n# method\ntime [s],resistance [MOhm]\n60,100\n"
    with pytest.raises(InputError) as caught:
        read_bytes(("# soakage = 1\n" + "\n" * above + wrong).encode(), f"{above}.csv")
    places = {(fault.file, fault.field, fault.row) for fault in caught.value.faults}
    assert places >= {(f"{above}.csv", "class", 2 + above), (f"{above}.csv", "method", 3 + above)}


def test_a_figure_written_before_is_written_again_only_for_the_same_question() -> None:
    asked: list[tuple[dict[str, int], str]] = [
        ({}, "5.00\u00a0kV"),
        ({"trim": True}, "5\u00a0kV"),
        ({"digits": 2}, "5.0\u00a0kV"),
        ({"ascii": True}, "5.00 kV"),
    ]
    for _ in range(2):
        for options, text in asked:
            assert format_quantity(5000.0, "voltage", **options) == text  # type: ignore[arg-type]
        assert format_quantity(Measured(5000.0, Bound.LOWER), "voltage") == ">\u00a05\u00a0kV"
        assert format_quantity(5000.0, "resistance") == "5.00\u00a0kΩ"
        assert format_quantity(-0.0, "voltage") == format_quantity(0.0, "voltage")
    assert parse("5.00 kV", "voltage").value == 5000.0
