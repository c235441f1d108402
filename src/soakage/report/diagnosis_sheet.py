"""The sheet of a workbook for probable causes and for what the whole curve tells."""

from __future__ import annotations

from soakage.app.result import Evaluated, Evaluation
from soakage.report.diagnosis import causes, fit_sentence, forecast_sentences

Cell = str | float | int | None


def diagnosis_rows(evaluation: Evaluation) -> list[list[Cell]]:
    """Return one row for each cause, and for fit, forecast, steps and knee of a record.

    Parameters
    ----------
    evaluation : Evaluation
        The records with everything said about them.

    Returns
    -------
    list of list
        A head, then rows; figures in SI.
    """
    rows: list[list[Cell]] = [
        [
            "Record",
            "Asset and section",
            "What",
            "Rank or figure",
            "For",
            "Against",
            "To confirm",
            "Next test",
            "Note",
        ]
    ]
    for number, evaluated in enumerate(evaluation.records, start=1):
        named: list[Cell] = [number, evaluated.record.title]
        rows += [[*named, *row] for row in (*_causes(evaluated), *_curve(evaluated))]
    return rows


def _causes(evaluated: Evaluated) -> list[list[Cell]]:
    found = causes(evaluated)
    if found is None:
        return []
    rows: list[list[Cell]] = [
        [
            row["name"],
            row["word"],
            row["pro"],
            row["con"],
            row["confirm_by"],
            row["next_test"],
            row["description"],
        ]
        for row in found["rows"]
    ]
    return [*rows, ["Probable causes", "", "", "", "", "", found["note"]]]


def _curve(evaluated: Evaluated) -> list[list[Cell]]:
    rows: list[list[Cell]] = []
    if evaluated.fit is not None:
        rows.append(["Fit of the whole curve", "", "", "", "", "", fit_sentence(evaluated.fit)])
    if evaluated.forecast is not None:
        said = " ".join(forecast_sentences(evaluated.forecast, evaluated.judgements))
        rows.append(["Forecast, not a judgement", evaluated.forecast.estimate, "", "", "", "", said])
    rows += [
        [f"Conductance at {step.voltage:g} V, S", step.conductance, "", "", "", "",
         f"memory of earlier steps removed; standard uncertainty {step.uncertainty:.2g} S"]
        for step in evaluated.step_conductances
    ]  # fmt: skip
    if evaluated.knee is not None:
        knee = evaluated.knee
        rows.append(
            [
                "Knee of the ramp, V",
                knee.onset,
                "",
                "",
                "",
                "",
                f"estimated onset; noticed at {knee.noticed_at:g} V",
            ]
        )
    return rows
