"""What a report says of one record: verdict, what was tested and how, conditions, findings, what is left."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from soakage.app.cautions import cautions
from soakage.app.ramp_split import split_sentence
from soakage.app.result import Evaluated
from soakage.model.record import Record
from soakage.model.verdict import Status
from soakage.quantities import lookup
from soakage.report.criteria import criteria, reason
from soakage.report.diagnosis import causes, fit_sentence, forecast_sentences
from soakage.report.figures import counted, day, moment, printed
from soakage.report.plots import message, plots
from soakage.report.stated import asset_rows, condition_rows, connection, set_voltage, test_rows, thermo
from soakage.report.tables import cited, quantities, ramp_table, step_table
from soakage.standards.library import library
from soakage.units import format_quantity

Content = dict[str, Any]

_INVENTED = "invented"
_LONGEST_HEAD = 44
_UNKNOWN_KEY = "unknown_key"  # shown as what was also stated
_SENTENCE_END = re.compile(r"(?<=[\w)])\. (?=[A-Z])")
_LOWER_START = re.compile(r"(?<=[a-z]{3}\. )[a-z]")
_NESTED = re.compile(r"\(([^()]*?) \(([^()]*)\)\)")
# A long statement ends where its first figure and limit have been said.
_CUTS = (
    (re.compile(r"(Meets every deciding criterion): (.*)$"), r"\1.", r"\2"),
    (re.compile(r"(Not judged): (.*)$"), r"\1.", r"\2"),
    (re.compile(r"(.*? is [^()]*?) \((below .*?)\) and (.*)$"), r"\1.", r"Bands: \2. Also \3"),
    (re.compile(r"(.*? is required)(?: and |, )(.*)$"), r"\1.", r"\2"),
    (re.compile(r"(.*? is [^()]*(?:mA/\(V F\)|%|\d)) \((below .*?)\)(\..*)$"), r"\1.", r"Bands: \2\3"),
)


def record_content(evaluated: Evaluated, *, number: int) -> Content:
    """Return what is said of one record, as plain JSON-able values.

    Parameters
    ----------
    evaluated : Evaluated
        The record with everything said about it.
    number : int
        Its place in the report, from 1.

    Returns
    -------
    dict
        Words, figures as text, plots; nothing about layout.
    """
    record, verdict, drawn = evaluated.record, evaluated.verdict, plots(evaluated)
    actions = next_steps(evaluated)
    return {
        "kind": "record",
        "number": number,
        "title": record.title,
        "subtitle": subtitle(evaluated),
        "brief": brief(record.title),
        "short": f"{evaluated.method.title}, {day(record.day)}",
        "verdict": {
            "status": str(verdict.status),
            **parted(verdict.sentence, record.title),
            "first_action": actions[0] if actions else "",
            "certainty": certainty(evaluated),
        },
        "asset": asset_rows(record),
        "connection": connection(record),
        "test": test_rows(evaluated),
        "conditions": condition_rows(evaluated),
        "thermo": thermo(evaluated),
        "message": message(evaluated),
        "fit": fit_sentence(evaluated.fit),
        "forecast": forecast_sentences(evaluated.forecast, evaluated.judgements),
        "plots": drawn,
        "plot_note": _plot_note(evaluated, drawn),
        "steps": step_table(evaluated),
        "ramp": ramp_table(evaluated),
        "quantities": quantities(evaluated),
        "criteria": criteria(evaluated.judgements, evaluated.quantities),
        "findings": findings(evaluated),
        "causes": causes(evaluated),
        "not_tested": [{"what": entry.what, "why": entry.why} for entry in evaluated.not_tested],
        "next": actions,
        "cautions": caution_list(evaluated),
        "also_stated": also_stated(evaluated),
    }


def parted(sentence: str, title: str = "") -> dict[str, str]:
    """Return a verdict as its first statement and what follows it.

    Parameters
    ----------
    sentence : str
        The verdict in words; names the thing, the number, the limit.
    title : str
        The thing, which stands above as a title and is not said again.

    Returns
    -------
    dict
        ``sentence`` and ``more``; a bracket inside another stands with the criteria, not here.
    """
    said = _NESTED.sub(r"(\1)", sentence.removeprefix(f"{title}: ") if title else sentence)
    said = upper_first(said)
    for pattern, first, rest in _CUTS:
        found = pattern.match(said)
        if found:
            return {"sentence": found.expand(first), "more": upper_first(found.expand(rest))}
    end = _SENTENCE_END.search(said)
    return (
        {"sentence": said[: end.start() + 1], "more": said[end.end() :]}
        if end
        else {"sentence": said, "more": ""}
    )


def brief(title: str) -> str:
    """Return a title that leaves room beside it in the head of a page."""
    return title if len(title) <= _LONGEST_HEAD else f"{title[: _LONGEST_HEAD - 1].rstrip()}…"


def upper_first(text: str) -> str:
    """Return text with a capital at its start."""
    return text[:1].upper() + text[1:]


def next_steps(evaluated: Evaluated) -> list[str]:
    """Return what to do next: the verdict's actions, and what a broken band asks for, as whole sentences."""
    verdict = evaluated.verdict
    banded = [
        reason(j)
        for j in evaluated.judgements
        if j.status is verdict.status and j.status.rung > 0 and j.limit is not None and j.limit.kind == "band"
    ]
    said = [
        _LOWER_START.sub(lambda m: m[0].upper(), upper_first(a)) for a in (*verdict.actions, *banded) if a
    ]
    return list(dict.fromkeys(said))


def is_invented(record: Record) -> bool:
    """Return True where the record says its plant is invented."""
    stated = (record.paper.notes or "").lower()
    return _INVENTED in stated or any(_INVENTED in key.lower() for key in record.extra)


def subtitle(evaluated: Evaluated) -> str:
    """Return method, voltage, time and the numbers of the asset, as one line."""
    record = evaluated.record
    volts = record.test.test_voltage
    first = evaluated.method.title + (f" at {set_voltage(volts)} direct voltage" if volts is not None else "")
    when = f"{moment(record.test.started)}." if record.test.started is not None else "Date not stated."
    asset = record.asset
    named = [f"{word} {value}" for word, value in (("tag", asset.tag), ("serial no.", asset.serial)) if value]
    numbers = f"{upper_first(', '.join(named))}." if named else ""
    return " ".join(filter(None, (f"{first}.", when, numbers)))


def certainty(evaluated: Evaluated) -> str:
    """Say how well the figure behind the verdict is known."""
    needy = next((j for j in evaluated.judgements if j.status == evaluated.verdict.status), None)
    quantity = evaluated.quantities.get(needy.quantity) if needy else None
    if quantity is None:
        return ""
    shown = printed(quantity)
    if quantity.bound is not None:
        return "The reading only bounds the truth: no more than that is known."
    if not shown.plus_minus and not evaluated.record.instrument.accuracy:
        return "The instrument's accuracy was not declared, so no uncertainty can be given."
    if not shown.plus_minus:
        return "No uncertainty is worked out for this figure."
    unit = f"\u00a0{shown.unit}" if shown.unit else ""
    return f"{shown.value}{unit} is known to within {shown.plus_minus}{unit} (95\u00a0% coverage)."


def _plot_note(evaluated: Evaluated, drawn: list[Content]) -> str:
    readings = evaluated.record.readings
    notes = [f"{counted(len(readings), 'reading')}. Heavy line: measured."]
    roles = {line["role"] for plot in drawn for line in plot["lines"]}
    if any(plot["rings"] for plot in drawn) and not evaluated.steps:
        notes.append("Rings: the marks.")
    if np.any(readings.bound != 0):
        notes.append("Triangles: bounds, pointing to where the truth may lie.")
    if any(plot["limits"] for plot in drawn):
        notes.append("Strokes: the forbidden side of a limit.")
    if {"constant", "part"} <= roles:
        whole = evaluated.fit is not None
        notes.append(f"Dotted and dashed: parts worked out from the {'whole curve' if whole else 'marks'}.")
    if "mean" in roles:
        notes.append("Dots with bars: conductance, 95\u00a0%; dashed: their weighted mean.")
    if evaluated.ramp_split is not None:
        notes.append(split_sentence(evaluated.ramp_split))
    if evaluated.knee is not None:
        notes.append("Dashed beyond the knee: the part below it carried on, with its 95\u00a0% band.")
    if evaluated.forecast is not None:
        notes.append("Dashed band: forecast, 90\u00a0%.")
    if readings.current_derived:
        notes.append("Current worked out from resistance and voltage.")
    return " ".join(notes)


def findings(evaluated: Evaluated) -> Content:
    """Return the findings, with the number of checks made and passed: none found is never called good."""
    made, passed = evaluated.checks_made, evaluated.checks_passed
    sentence = f"{counted(made, 'check')} made on the readings, {passed} passed."
    noticed = [f for f in evaluated.findings if f.code != _UNKNOWN_KEY]
    if not noticed:
        sentence += " No finding. That tells nothing beyond these checks."
    rows = [
        {
            "sentence": found.sentence,
            "remedy": found.remedy,
            "status": str(found.status) if found.status not in (None, Status.SOUND) else "",
            "code": found.code,
        }
        for found in noticed
    ]
    return {"sentence": sentence, "rows": rows}


def caution_list(evaluated: Evaluated) -> list[Content]:
    """Return the cautions that hold after the test, with their sources."""
    record = evaluated.record
    capacitance = evaluated.quantities.get("capacitance")
    found = cautions(
        record.asset.asset_class,
        evaluated.method,
        overvoltage=evaluated.method.voltage_role == "overvoltage",
        hazardous_area=record.paper.hazardous_area,
        library=library(),
        capacitance=capacitance.value if capacitance else record.test.capacitance,
        test_voltage=record.test.test_voltage,
    )
    rows = [_caution(c.lead, c.rest, c.source, c.verified) for c in found if c.step == "after"]
    earthing = evaluated.quantities.get("earthing_time")
    if earthing is not None:
        time = format_quantity(earthing.value, "time")
        lead = f"Minimum earthing time after this test: {time}."
        rest = "When it has passed: prove dead, keep earthed while you work."
        rows.insert(0, _caution(lead, rest, earthing.source, lookup(earthing.id).verified))
    return rows


def _caution(lead: str, rest: str, source: str, verified: str) -> Content:
    named, words = cited(source, verified)
    return {"lead": lead, "rest": rest, "source": named, "verified": words}


def also_stated(evaluated: Evaluated) -> list[list[str]]:
    """Return remarks and the keys the reader does not know; that a plant is invented stands in the foot."""
    record = evaluated.record
    rows = [["Remarks", record.paper.notes]] if record.paper.notes else []
    return [*rows, *([key, str(value)] for key, value in record.extra.items() if key.lower() != _INVENTED)]
