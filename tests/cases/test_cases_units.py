"""Worked cases of figures with units: read as people type them, and written for people to read."""

from __future__ import annotations

import pytest

from soakage.errors import QuantityError
from soakage.units import Bound, Measured, format_quantity, parse
from worked import STATUSES, Case, cases

TOLD = {"id", "source", "status", "bases"}


@pytest.mark.parametrize("case", cases("units_read.toml"))
def test_is_read(case: Case) -> None:
    assert case["status"] in STATUSES
    how = {key: case[key] for key in ("full_scale", "decimal_comma", "default_unit") if key in case}
    assert set(case) <= {*TOLD, *how, "text", "dimension", "value", "bound", "refused"}
    if "refused" in case:
        with pytest.raises(QuantityError) as caught:
            parse(case["text"], case["dimension"], **how)
        said = str(caught.value).replace("\N{NO-BREAK SPACE}", " ")
        assert case["refused"] in said
        assert "Allowed" in said, "a refusal says what is allowed"
        return
    found = parse(case["text"], case["dimension"], **how)
    assert found.value == pytest.approx(case["value"], rel=1e-12)
    assert found.bound == (Bound(case["bound"]) if "bound" in case else None)


@pytest.mark.parametrize("case", cases("units_written.toml"))
def test_is_written(case: Case) -> None:
    assert case["status"] in STATUSES
    how = {key: case[key] for key in ("digits", "ascii", "trim") if key in case}
    assert set(case) <= {*TOLD, *how, "text", "dimension", "value", "bound"}
    given = Measured(case["value"], Bound(case["bound"]) if "bound" in case else None)
    text = format_quantity(given, case["dimension"], **how)
    assert text.replace("\N{NO-BREAK SPACE}", " ") == case["text"]
    assert "ascii" not in case or text.isascii()
    if "bound" in case:
        again = parse(text, case["dimension"])
        assert again.bound == given.bound
        apart = again.value - given.value
        assert apart <= 0 if given.bound is Bound.LOWER else apart >= 0, "rounded towards the truth"
