"""What the journal keeps of a test and of a verdict, as plain values; pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from soakage.app.contract_json import record_json
from soakage.app.register import identity
from soakage.app.result import Evaluated, RuleNames
from soakage.app.visits import section_name
from soakage.model.readings import Readings
from soakage.model.record import Origin, Record
from soakage.model.stated import canonical, findings_of, findings_plain, record_of, stated_plain

TRENDED = (
    "insulation_resistance", "insulation_resistance_corrected", "insulation_resistance_60s",
    "insulation_resistance_60s_corrected", "insulation_resistance_600s", "insulation_resistance_600s_corrected",
    "polarization_index", "dielectric_absorption_ratio", "absorption_ratio_60_15", "dielectric_discharge",
    "capacitance", "conduction_current", "conductance_fitted", "polarization_index_fitted", "voltage_dependence",
    "knee_voltage", "phase_spread", "resistance_length",
)  # fmt: skip


def instrument_id(record: Record) -> str | None:
    """Return the id of the instrument a record names by its serial number, None where it does not."""
    serial = record.instrument.serial
    return identity("instrument", serial) if serial else None


def visit_id(asset: str | None, record: Record) -> str | None:
    """Return the id of the visit a record belongs to, None where it stands alone."""
    name = record.paper.visit or (record.day.isoformat() if record.day else None)
    return identity("visit", asset, name) if asset and name else None


def received_body(
    record: Record, *, content: str, asset: str | None, readings: str, file_sha256: str | None
) -> dict[str, Any]:
    """Return the body of the entry that brings a record, or a revision of one.

    Parameters
    ----------
    record : Record
        As received.
    content : str
        Its content id.
    asset : str or None
        Id of its asset.
    readings : str
        Hash of its sealed readings.
    file_sha256 : str or None
        Hash of the file it came in, where that was kept.

    Returns
    -------
    dict
        ``set`` (content, asset), ``of`` (what it is searched by) and ``record`` (all of it but the readings).
    """
    started = record.test.started
    return {
        "set": {"content": content, "asset": asset},
        "of": {
            "section": section_name(record),
            "visit": visit_id(asset, record),
            "instrument": instrument_id(record),
            "method": record.test.method,
            "test_voltage": record.test.test_voltage,
            "day": record.day.isoformat() if record.day else None,
            "started": started.isoformat() if started else None,
        },
        "record": {
            "stated": stated_plain(record),
            "extra": dict(record.extra),
            "findings": findings_plain(record.findings),
            "readings": readings,
            "file": record.origin.file,
            "file_sha256": file_sha256,
            "sha256": record.origin.sha256,
            "row": record.origin.row,
        },
    }


def kept_record(kept: Mapping[str, Any], readings: Readings) -> Record:
    """Return the record of an entry's body; the inverse of `received_body`."""
    return record_of(
        kept["stated"],
        readings,
        extra=kept["extra"],
        findings=findings_of(kept["findings"]),
        origin=Origin(kept["file"], kept["sha256"], kept["row"]),
    )


def result_bytes(evaluated: Evaluated) -> bytes:
    """Return the result of a record as ``judge --json`` gives it, as canonical JSON."""
    return canonical(record_json(evaluated)).encode()


def judged_body(evaluated: Evaluated, rules: RuleNames, content: str, result: str) -> dict[str, Any]:
    """Return the body of the entry that gives a verdict.

    Parameters
    ----------
    evaluated : Evaluated
        The record with everything said about it.
    rules : RuleNames
        What judged.
    content : str
        Content id of the revision judged.
    result : str
        Hash of `result_bytes`.

    Returns
    -------
    dict
        Rules, status, sentence, the criteria with edition and status, the figures to be trended, the findings.
    """
    return {
        "content": content,
        "profile": rules.profile,
        "profile_sha256": rules.profile_sha256,
        "criteria_sha256": rules.criteria_sha256,
        "version": rules.version,
        "status": str(evaluated.verdict.status),
        "sentence": evaluated.verdict.sentence,
        "result": result,
        "criteria": [
            {
                "criterion": judgement.criterion,
                "source": judgement.source,
                "data_sha256": judgement.data_hash,
                "status": str(judgement.status),
            }
            for judgement in evaluated.judgements
        ],
        "figures": [
            {
                "quantity": name,
                "value": quantity.value,
                "bound": quantity.bound,
                "uncertainty": quantity.uncertainty,
                "rule": quantity.rule,
                "base_temperature": quantity.base_temperature,
            }
            for name in TRENDED
            if (quantity := evaluated.quantities.get(name)) is not None
        ],
        "findings": [
            {
                "code": finding.code,
                "sentence": finding.sentence,
                "status": str(finding.status) if finding.status else None,
            }
            for finding in evaluated.findings
        ],
    }
