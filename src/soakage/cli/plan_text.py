"""A plan as plain text for a terminal: cautions first."""

from __future__ import annotations

from collections.abc import Iterator

from soakage.app.plan import Plan
from soakage.app.plan_graded import SOURCE, VERIFIED, Graded
from soakage.cli.wrapping import wrapped
from soakage.standards.criterion import sourced
from soakage.units import format_quantity, kelvin


def plan_text(plan: Plan) -> Iterator[str]:
    """Yield the lines of a plan in the order of the hands."""
    yield f"Plan: {plan.asset.title}"
    yield wrapped(f"{plan.hazardous_area}. Local codes and licensed practice come first.", "  ")
    if plan.refusal:
        yield wrapped(plan.refusal, "  ")
        return
    yield ""
    yield "  Cautions"
    for caution in plan.cautions:
        source = f" ({caution.source}; {caution.verified})" if caution.source else ""
        yield wrapped(f"{caution.step}: {caution.text}{source}", "      ", "    ! ")
    yield ""
    yield "  Before the first connection"
    for item in plan.checklist:
        yield wrapped(item, "        ", "    [ ] ")
    yield ""
    yield "  Tests"
    for chosen in plan.methods:
        marks = ", ".join(
            format_quantity(m.time, "time") + (" into the discharge" if m.after_discharge else "")
            for m in chosen.method.marks
        )
        yield wrapped(f"{chosen.method.title}: {chosen.why} Marks: {marks or 'none'}.", "      ", "    - ")
    yield from _voltage(plan)
    yield ""
    yield "  Connections, in order"
    for number, connection in enumerate(plan.connections, start=1):
        sets = f"live {', '.join(connection.tested)}; earthed {', '.join(connection.earthed)}"
        if connection.guarded:
            sets += f"; guarded {', '.join(connection.guarded)}"
        volts = (
            f" at {format_quantity(connection.voltage, 'voltage', trim=True)}" if connection.voltage else ""
        )
        methods = ", ".join(connection.methods)
        yield wrapped(f"{sets}{volts} ({methods})", "       ", f"    {number}. ")
    yield from _rising(plan)
    yield from _charging(plan)
    yield ""
    yield "  Criteria"
    for entry in plan.criteria:
        limit = entry.limit.text if entry.limit else entry.reason
        yield wrapped(f"{entry.name}: {limit}", "      ", "    - ")
        if entry.readings:
            means = ", ".join(
                f"{format_quantity(r, 'resistance')} read at {format_quantity(kelvin(t), 'temperature')}"
                for t, r in entry.readings
            )
            yield wrapped(f"that is {means}", "      ")
        yield wrapped(sourced(entry.source, entry.verified), "      ")
    if plan.notes:
        yield ""
        yield "  Notes"
        for note in plan.notes:
            yield wrapped(note, "      ", "    - ")


def _voltage(plan: Plan) -> Iterator[str]:
    voltage = plan.test_voltage
    yield ""
    if voltage is None:
        yield "  Voltage: no table applies to what is stated; see the notes."
        return
    yield f"  Voltage: {format_quantity(voltage.value, 'voltage', trim=True)} direct voltage"
    low, high = (format_quantity(v, "voltage", trim=True) for v in (voltage.low, voltage.high))
    span = low if low == high else f"{low} to {high}"
    yield wrapped(f"{voltage.row}: {span}. {sourced(voltage.source, voltage.verified)}", "    ")
    yield wrapped(voltage.why, "    ")


def _rising(plan: Plan) -> Iterator[str]:
    for entry in plan.rising:
        top = format_quantity(entry.voltage.value, "voltage", trim=True)
        if entry.graded is not None:
            how = f"graded times, {format_quantity(entry.graded.total, 'time')} in all"
        elif entry.steps:
            levels = ", ".join(format_quantity(volts, "voltage", trim=True) for volts in entry.steps)
            how = f"steps of {levels}, each held one minute"
        else:
            how = f"a ramp of {format_quantity(entry.rate or 0.0, 'ramp_rate', trim=True)} to {top}"
        yield ""
        yield wrapped(f"{plan.method(entry.method).method.title}: {how}", "  ")
        yield wrapped(sourced(entry.voltage.source, entry.voltage.verified), "    ")
        if entry.graded is not None:
            yield from _graded(entry.graded)
        if entry.overvoltage:
            yield wrapped(f"{top} is an overvoltage test. Before it, in writing:", "    ")
            for condition in entry.conditions:
                yield wrapped(condition, "        ", "    [ ] ")


def _graded(times: Graded) -> Iterator[str]:
    for volts, start, end in zip(times.voltages, times.starts, times.ends, strict=True):
        level = format_quantity(volts, "voltage", trim=True)
        span = f"{format_quantity(start, 'time')} to {format_quantity(end, 'time')}"
        yield f"      {level:>9}  {span}"
    yield wrapped(
        f"Read the current at the end of each hold. Exponent {times.absorption_exponent:.2g} "
        f"({times.exponent_source}). {sourced(SOURCE, VERIFIED)}",
        "    ",
    )


def _charging(plan: Plan) -> Iterator[str]:
    yield ""
    if plan.charging is not None:
        yield wrapped(f"Charging: {plan.charging.text}", "    ", "  ")
    if plan.earthing is not None:
        earthing = plan.earthing
        yield wrapped(
            f"Earthing: at least {format_quantity(earthing.time, 'time')} after each test. {earthing.text} "
            f"({earthing.source}; {earthing.verified})",
            "    ", "  ",
        )  # fmt: skip
