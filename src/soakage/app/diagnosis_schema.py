"""The part of the schema of ``judge --json`` that says what a record's shape tells beyond its marks."""

from __future__ import annotations

from soakage.app.schema_parts import (
    COUNT,
    FLAG,
    NAMES,
    NUMBER,
    NUMBER_OR_NULL,
    SHARE_OR_NULL,
    TEXT,
    VERIFIED,
    Schema,
    described,
    list_of,
    quantity_id_pattern,
    shape,
)


def diagnosis_properties() -> Schema:
    """Return the schemas of causes, fit, forecast, step conductances and knee, by key.

    Returns
    -------
    dict
        None of the keys but ``causes`` need be there.
    """
    step = {"voltage": NUMBER, "conductance": NUMBER_OR_NULL, "uncertainty": NUMBER_OR_NULL}
    return {
        "causes": list_of(_cause(), "Probable causes, heaviest first; they change no verdict."),
        "fit": _fit(),
        "forecast": _forecast(),
        "step_conductances": list_of(shape(step), "Of a step test, absorption taken out, in siemens."),
        "knee": _knee(),
        "ramp_split": _ramp_split(),
    }


def _ramp_split() -> Schema:
    shares = shape(dict.fromkeys(("capacitance", "absorption", "conduction"), NUMBER))
    names = (
        "at", "capacitance", "capacitance_uncertainty", "absorption_exponent", "conductance",
        "conductance_uncertainty",
    )  # fmt: skip
    parts = {"capacitance_stated": FLAG, "shares": shares, "share_uncertainties": shares}
    return described(
        "Parts of a ramp's current, below its knee.", shape({**dict.fromkeys(names, NUMBER), **parts})
    )


def _cause() -> Schema:
    always = {"id": TEXT, "weight": NUMBER, "evidence": NAMES, "confirm_by": TEXT}
    said = dict.fromkeys(("name", "next_test", "source"), TEXT)
    return shape(always, {**said, "verified": VERIFIED})


def _fit() -> Schema:
    numbers = dict.fromkeys(("scatter", "correlation"), NUMBER_OR_NULL)
    reason = described("Why it does not follow the model, where it does not.", TEXT)
    return shape({"follows_model": FLAG, **numbers}, {"reason": reason})


def _forecast() -> Schema:
    numbers = dict.fromkeys(("at", "seen_until", "estimate", "lower", "upper"), NUMBER)
    quantity = {"type": "string", "pattern": quantity_id_pattern()}
    chance = described("null where no criterion applies, with reason.", SHARE_OR_NULL)
    tests = described("Complete tests of the archive behind it; null without one.", _count_or_null())
    scale = described("Factor on the width of the interval that they gave.", NUMBER)
    always = {
        "quantity": quantity,
        **numbers,
        "probability_meets": chance,
        "archive_tests": tests,
        "scale": scale,
    }
    return shape(always, {"reason": TEXT})


def _count_or_null() -> Schema:
    return {"type": ["integer", "null"], "minimum": 0}


def schedule_shape() -> Schema:
    """Return the schema of a graded step test with its line.

    Returns
    -------
    dict
        ``departure`` is that of the last reading, as a share of the line, with a 90 % interval.
    """
    line = dict.fromkeys(("conductance", "uncertainty", "departure", "lower", "upper"), NUMBER)
    expected = described(
        "What the schedule leaves with the first hold's exponent; null unknown.", NUMBER_OR_NULL
    )
    return shape(
        {
            "record": described("Place in records, counted from 0.", COUNT),
            "asset": TEXT,
            "absorption_exponent": described("Exponent its holds were made for.", NUMBER),
            "steps": list_of(shape(dict.fromkeys(("voltage", "start", "end", "current"), NUMBER))),
            "line": shape({**line, "straight": FLAG, "expected": expected}),
        }
    )


def _knee() -> Schema:
    numbers = dict.fromkeys(("onset", "noticed_at"), NUMBER)
    shares = dict.fromkeys(("excess_share", "confidence"), NUMBER_OR_NULL)
    return shape({**numbers, **shares}, description="Where the current begins to rise faster; in volts.")
