"""What of a result decides whether a report may be made: figures, limits, statuses, never the words."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from soakage.app.differences import alike
from soakage.web.test_files import _decisive

RESULT: dict[str, Any] = {
    "verdict": {"status": "watch", "sentence": "Watch it.", "actions": ["Test sooner."]},
    "judgements": [
        {
            "criterion": "invented.minimum", "name": "Minimum", "quantity": "polarization_index", "value": 1.6,
            "limit": {"kind": "constant", "lower": 2.0, "upper": None, "unit": "1", "text": "at least 2.0"},
            "status": "watch", "reason": "It is below.", "source": "Invented standard, cl. 1", "decides": True,
            "data_sha256": "ab" * 32,
        }
    ],
    "quantities": {
        "polarization_index": {
            "value": 1.6, "unit": "1", "bound": None, "uncertainty": 0.01, "formula": "R2 / R1", "source": "somewhere"
        }
    },
    "findings": [],
}  # fmt: skip


def changed(*path: str | int, to: object) -> dict[str, Any]:
    result: Any = copy.deepcopy(RESULT)
    place = result
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = to
    return dict(result)


@pytest.mark.parametrize(
    ("path", "to"),
    (
        (("verdict", "sentence"), "Look at it again."),
        (("verdict", "actions"), []),
        (("judgements", 0, "reason"), "It lies lower."),
        (("judgements", 0, "name"), "Least index"),
        (("judgements", 0, "data_sha256"), "cd" * 32),
        (("judgements", 0, "limit", "text"), "no less than 2.0"),
        (("quantities", "polarization_index", "formula"), "R at 10 min over R at 1 min"),
        (("quantities", "polarization_index", "value"), 1.6 + 1e-13),
        (("findings",), [{"code": "read_as"}]),
    ),
)
def test_other_words_are_no_other_result(path: tuple[str | int, ...], to: object) -> None:
    assert alike(_decisive(RESULT), _decisive(changed(*path, to=to)))


@pytest.mark.parametrize(
    ("path", "to"),
    (
        (("verdict", "status"), "sound"),
        (("judgements", 0, "status"), "sound"),
        (("judgements", 0, "value"), 1.7),
        (("judgements", 0, "limit"), None),
        (("judgements", 0, "limit", "lower"), 1.5),
        (("judgements", 0, "limit", "upper"), 9.0),
        (("judgements", 0, "source"), "Invented standard, another edition"),
        (("judgements", 0, "criterion"), "invented.other"),
        (("judgements", 0, "decides"), False),
        (("judgements",), []),
        (("quantities", "polarization_index", "value"), 1.61),
        (("quantities", "polarization_index", "bound"), "lower"),
        (("quantities", "polarization_index", "uncertainty"), None),
        (("quantities",), {}),
    ),
)
def test_another_figure_limit_or_status_is_another_result(path: tuple[str | int, ...], to: object) -> None:
    assert not alike(_decisive(RESULT), _decisive(changed(*path, to=to)))
