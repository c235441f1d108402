"""Worked cases of whole record files: what is stated in them, or the fault and its line."""

from __future__ import annotations

from typing import Any

import pytest

from soakage.errors import InputError
from soakage.importers.reading import read_bytes
from worked import STATUSES, Case, cases

TOLD = {"id", "source", "status", "bases", "text"}


def plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


@pytest.mark.parametrize("case", cases("headers.toml"))
@pytest.mark.parametrize("coding", ("utf-8", "utf-8-sig", "utf-16", "cp1252"))
@pytest.mark.parametrize("ending", ("\n", "\r\n"))
def test_is_read(case: Case, coding: str, ending: str) -> None:
    assert case["status"] in STATUSES
    assert set(case) <= {*TOLD, "stated", "kept", "last", "fault", "words"}
    file = case["text"].replace("\n", ending).encode(coding)
    if "fault" in case:
        with pytest.raises(InputError) as caught:
            read_bytes(file, "typed.csv")
        said = str(caught.value).replace("\N{NO-BREAK SPACE}", " ")
        assert [words for words in case["words"] if words not in said] == [], said
        assert case["fault"] in {fault.row or 0 for fault in caught.value.faults}, said
        return
    (record,) = read_bytes(file, "typed.csv")
    stated = {name: plain(value) for name, value in record.stated().items()}
    for name, value in case.get("stated", {}).items():
        wanted = pytest.approx(value, rel=1e-12) if isinstance(value, float) else value
        assert stated[name] == wanted, name
    assert {name: record.extra.get(name) for name in case.get("kept", {})} == case.get("kept", {})
    assert record.readings.resistance[-1] == pytest.approx(case.get("last", 500e6))
    assert record.readings.time[-1] == 60.0
