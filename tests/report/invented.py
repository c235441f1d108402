"""Evaluations built by hand for the tests of reports. Every plant, person and reading is invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from types import MappingProxyType
from typing import Any

import numpy as np

from soakage.app.result import (
    Evaluated,
    Evaluation,
    Network,
    NotTested,
    Pair,
    RampRow,
    RuleNames,
    StepRow,
    Visit,
)
from soakage.errors import Fault
from soakage.methods import method
from soakage.model.asset import Asset
from soakage.model.readings import Readings
from soakage.model.record import Origin, Record
from soakage.model.test import Accuracy, Conditions, Instrument, Paper, Test, VoltageFound
from soakage.model.verdict import Finding, Judgement, Limit, QuantityValue, Status, Verdict
from soakage.units import Bound

STARTED = datetime(2026, 3, 14, 9, 20, tzinfo=UTC)
RULES = RuleNames("default", "Default rule set", "b" * 64, "c" * 64, "0.1.0")
ASSET = Asset(
    site="Lower Marling pumping station", name="Pump 3 motor", tag="LM-P3-M", serial="40917", section="U",
    asset_class="rotating-machine", rated_voltage=6600.0, rated_power=1.9e6, insulation="epoxy-mica",
    year=2004, terminals=("U", "V", "W", "frame", "RTD 1"), winding="form-wound", thermal_class="155",
    neutral="opened",
)  # fmt: skip
PAPER = Paper(
    permit="PTW-118", report_number="LM-2026-031", revision="B", revision_reason="instrument serial corrected",
    licence_number="HV-2207", work_order="WO-5512", visit="spring outage", tested_by="R. Amsel",
    witnessed_by="T. Brook", purpose="maintenance", notes="invented sample", hazardous_area="no",
)  # fmt: skip
CONDITIONS = Conditions(
    winding_temperature=300.65, temperature_method="slot sensors", ambient_temperature=295.15,
    relative_humidity=0.55, surface="dry", hours_out_of_service=93_600.0, attached=("surge capacitors off",),
)  # fmt: skip
INSTRUMENT = Instrument(
    "tester no. 7", "T7-33", date(2026, 9, 2), 2e-3, (Accuracy(None, 0.05, 2e-11, None, 0.5),)
)
MEGOHM = 1e6


def curve(*, points: int = 596, volts: float = 5003.0, cut_at: float = np.inf) -> Readings:
    """Readings of I = V (A t^-n + G), above `cut_at` ohm only as lower bounds."""
    time = np.geomspace(5.0, 600.0, points)
    time[np.argmin(abs(time - 60.0))] = 60.0
    time[-1] = 600.0
    current = volts * (1.4e-8 * time**-0.75 + 6.4e-10)
    resistance = volts / current
    bound = np.where(resistance > cut_at, 1, 0).astype(np.int8)
    return Readings(time, np.full(points, volts), current, np.minimum(resistance, cut_at), bound)


def quantity(name: str, value: float, u: float | None = None, **more: Any) -> QuantityValue:
    given = {"formula": "V / I", "source": "IEEE Std 43-2013, cl. 5.3"} | more
    return QuantityValue(name, value, uncertainty=u, **given)


QUANTITIES = (
    quantity("insulation_resistance_60s", 832.4 * MEGOHM, 14.6 * MEGOHM),
    quantity(
        "insulation_resistance_60s_corrected", 705.4 * MEGOHM, 16 * MEGOHM, formula="K V / I(60 s), K = 0.8475",
        rule="thermosetting rule", base_temperature=313.15, source="IEEE Std 43-2013, cl. 6.3",
    ),
    quantity("insulation_resistance_600s", 1347.4 * MEGOHM, 23.5 * MEGOHM),
    quantity("polarization_index", 1.6187, 0.0074, formula="R(600 s) / R(60 s)"),
    quantity("dielectric_absorption_ratio", 1.315, None, formula="R(60 s) / R(30 s)", source="common practice"),
    quantity("conduction_current", 3.22e-6, 0.07e-6, formula="(I1 I10 - I3^2) / (I1 + I10 - 2 I3)"),
    quantity("absorption_exponent", 0.751, 0.0025, formula="lg((I1 - Ic) / (I10 - Ic))"),
    quantity("dew_point", 285.65, 0.95, formula="Magnus", source="WMO-No. 8"),
    quantity("earthing_time", 2400.0, None, formula="4 t", source="IEEE Std 43-2013, cl. 5.5"),
)  # fmt: skip


def judgement(
    name: str,
    quantity_id: str,
    status: Status,
    *,
    lower: float | None,
    text: str,
    value: float | None,
    **more: Any,
) -> Judgement:
    given = {"reason": f"The value is held against {text}.", "source": "IEEE Std 43-2013, cl. 12.2",
             "verified": "secondary"} | more  # fmt: skip
    unit = "ohm" if "resistance" in quantity_id else "1"
    limit = Limit("constant", lower, None, unit, text) if lower is not None else None
    return Judgement(name.lower().replace(" ", "-"), name, quantity_id, limit, status, value=value, **given)


JUDGEMENTS = (
    judgement(
        "Minimum polarization index, class 155", "polarization_index", Status.INVESTIGATE, lower=2.0,
        text="at least 2.0", value=1.6187, decides=True,
    ),
    judgement(
        "Dielectric discharge", "dielectric_discharge", Status.NOT_JUDGED, lower=None, text="", value=None,
        reason="No discharge current was recorded.", source="common practice", verified="practice",
    ),
    judgement(
        "Minimum insulation resistance, form-wound winding", "insulation_resistance_60s_corrected", Status.SOUND,
        lower=100 * MEGOHM, text="at least 100 MΩ at 40 °C", value=705.4 * MEGOHM, decides=True,
    ),
    judgement(
        "Own limit", "insulation_resistance_60s_corrected", Status.SOUND, lower=200 * MEGOHM,
        text="at least 200 MΩ", value=705.4 * MEGOHM, user_limit=True, source="", verified="user",
    ),
)  # fmt: skip
FINDINGS = (
    Finding("calibration-near", "The calibration ends within six months.", None, "Plan it."),
    Finding(
        "voltage-found",
        "Before the test 31 V ac stood on the terminals.",
        Status.INVESTIGATE,
        "Find its source.",
    ),
)
VERDICT = Verdict(
    Status.INVESTIGATE,
    "Winding U meets its resistance minimum but not its polarization index: 1.62, where at least 2.0 is asked.",
    ("Clean and dry winding U, then test it again.", "Do not test it at overvoltage before that."),
)


def record(**more: Any) -> Record:
    given: dict[str, Any] = {
        "asset": ASSET,
        "test": Test(
            "polarization-index", 5000.0, STARTED, ("U",), ("V", "W", "frame"), (), "negative",
            voltage_found=VoltageFound(dc=0.0),
        ),
        "readings": curve(),
        "conditions": CONDITIONS,
        "instrument": INSTRUMENT,
        "paper": PAPER,
        "origin": Origin("pump-3-u.csv", "a" * 64),
    }  # fmt: skip
    return Record(**(given | more))


def evaluated(of: Record | None = None, **more: Any) -> Evaluated:
    of = of or record()
    given: dict[str, Any] = {
        "record": of,
        "method": method(of.test.method),
        "quantities": MappingProxyType({q.id: q for q in QUANTITIES}),
        "findings": FINDINGS,
        "judgements": JUDGEMENTS,
        "verdict": VERDICT,
        "checks_made": 14,
        "checks_passed": 12,
        "not_tested": (NotTested("Insulation between turns", "This test puts no voltage across turns."),),
    }
    return Evaluated(**(given | more))


def evaluation(*records: Evaluated, **more: Any) -> Evaluation:
    given: dict[str, Any] = {"visits": (), "networks": (), "errors": (), "rules": RULES}
    return Evaluation(records=records or (evaluated(),), **(given | more))


def approved(of: Evaluated) -> Evaluated:
    return replace(of, record=replace(of.record, paper=replace(of.record.paper, approved_by="L. Vane")))


def steps() -> Evaluated:
    """Five equal holds, end values as five rows each."""
    edges = np.arange(5) * 60.0
    inside = np.linspace(2.0, 60.0, 30)
    time = (edges[:, None] + inside).ravel()
    volts = np.repeat(np.arange(1, 6) * 1000.0, 30)
    leak = np.repeat([1.0, 1.0, 1.0, 1.25, 1.6], 30) * 1.06e-10
    current = volts * leak + 1000.0 * 8e-9 * np.tile(inside, 5) ** -0.8
    readings = Readings(time, volts, current, volts / current, np.zeros(time.size, np.int8))
    rows = tuple(
        StepRow(float(v), 60.0, float(i), float(v / i), None)
        for v, i in zip(volts[29::30], current[29::30], strict=True)
    )
    test = Test("step-voltage", 5000.0, STARTED, ("U",), ("frame",), ("V", "W"))
    found = {"voltage_dependence": quantity("voltage_dependence", 0.36, 0.01)}
    return evaluated(record(test=test, readings=readings), steps=rows, quantities=found)


def ramp() -> Evaluated:
    time = np.arange(1.0, 601.0)
    volts = time * 1000 / 60
    current = 2.5e-7 * 1000 / 60 + volts * 1.1e-10 + 1e-6 * np.exp((volts - 10_000) / 400)
    readings = Readings(time, volts, current, np.full(time.size, np.nan), np.zeros(time.size, np.int8))
    rows = tuple(
        RampRow(*map(float, r)) for r in zip(time, volts, current, current / (1000 / 60), strict=True)
    )
    test = Test("ramp", 10_000.0, STARTED, ("U", "V", "W"), ("frame",), ramp_rate=1000 / 60)
    found = {"apparent_capacitance": quantity("apparent_capacitance", 2.6e-7, None, bound=Bound.UPPER)}
    return evaluated(
        record(test=test, readings=readings),
        ramp=rows,
        measured_ramp_rate=16.68,
        quantities=found,
        judgements=(),
    )


def spot(section: str, megohms: float, status: Status, bound: int = 0) -> Evaluated:
    """One resistance, its time stated."""
    array = np.array([60.0])
    readings = Readings(
        array, np.array([5000.0]), np.array([5000 / megohms / MEGOHM]), np.array([megohms * MEGOHM]),
        np.array([bound], np.int8), resistance_given=True, current_derived=True,
    )  # fmt: skip
    test = Test("insulation-resistance", 5000.0, STARTED, (section,), ("frame",))
    edge = {0: None, 1: Bound.LOWER, -1: Bound.UPPER}[bound]
    value = quantity("insulation_resistance_60s", megohms * MEGOHM, None, bound=edge)
    spread = quantity("phase_spread", 2.7, 0.1, formula="max R / min R", source="GB 50150-2006, cl. 3.0.2")
    judged = judgement(
        "Minimum insulation resistance", "insulation_resistance_60s", status, lower=100 * MEGOHM,
        text="at least 100 MΩ", value=megohms * MEGOHM,
    )  # fmt: skip
    return evaluated(
        record(asset=replace(ASSET, section=section), test=test, readings=readings),
        quantities={value.id: value, "phase_spread": spread},
        judgements=(judged,),
        findings=(),
        verdict=Verdict(status, f"{section} reads {megohms:g} MΩ.", (f"Look at {section}.",)),
    )


def visit() -> Evaluation:
    """Three phases of one visit with a network and a file that could not be read."""
    members = (
        spot("U", 900.0, Status.SOUND), spot("V", 1e6, Status.NOT_JUDGED, bound=1), spot("W", 60.0, Status.UNFIT),
    )  # fmt: skip
    return evaluation(
        *members,
        visits=(
            Visit(
                "Pump 3 motor", "spring outage", (0, 1, 2), Status.UNFIT, "1 of 3 is unfit; W is the odd one."
            ),
        ),
        networks=(
            Network(
                "Pump 3 motor",
                (Pair(("U", "V"), 3.2e9, None, 4e7, True), Pair(("V", "frame"), None, None, None, False)),
                False,
            ),
        ),
        errors=(
            Fault(
                "pump-4.csv",
                7,
                "test_voltage",
                "5 kW",
                "Not a voltage.",
                "a voltage, such as 5 kV",
                "Mend it.",
            ),
        ),
    )


def schedule(rows: int = 12) -> Evaluation:
    """A schedule of circuits of one small installation."""
    members = []
    for i in range(rows):
        status = Status.INVESTIGATE if i == 3 else Status.SOUND
        one = spot("", 0.4 if i == 3 else 120.0 + i, status)
        asset = Asset(
            name="Boat house", asset_class="low-voltage-installation", nominal_voltage=230.0,
            circuit=f"{i + 1} sockets", between="L-PE",
        )  # fmt: skip
        reading = quantity("insulation_resistance", one.record.readings.resistance[0])
        judged = judgement(
            "Minimum insulation resistance of a circuit", "insulation_resistance", status, lower=MEGOHM,
            text="at least 1 MΩ", value=reading.value, source="IEC 60364-6:2016, Table 6.1",
        )  # fmt: skip
        test = Test("circuit", 500.0, STARTED)
        members.append(
            replace(
                one, record=replace(one.record, asset=asset, test=test, origin=Origin("boat.csv", "d" * 64, i + 9)),
                method=method("circuit"), quantities={reading.id: reading}, judgements=(judged,),
            )
        )  # fmt: skip
    sentence = f"1 of {rows} readings is to be investigated: circuit 4 sockets, L-PE."
    whole = Visit("Boat house", "2026-03-14", tuple(range(rows)), Status.INVESTIGATE, sentence)
    return evaluation(*members, visits=(whole,))
