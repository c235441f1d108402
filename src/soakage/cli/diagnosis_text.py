"""What the whole curve tells, as text: fit, staircase, knee, forecast, probable causes."""

from __future__ import annotations

from collections.abc import Iterator

from soakage.app.archive import backing_sentence
from soakage.app.diagnose import COVERAGE
from soakage.app.graded import line_sentence
from soakage.app.ramp_split import split_sentence
from soakage.app.result import Evaluated, Forecast
from soakage.cli.uncertainty_text import probability_text
from soakage.cli.wrapping import wrapped
from soakage.units import format_quantity


def diagnosis_text(evaluated: Evaluated) -> Iterator[str]:
    """Yield the lines of a record's diagnosis; nothing where there is nothing to say."""
    fit = evaluated.fit
    if fit is not None:
        yield ""
        if fit.follows_model:
            slow = f", {fit.correlation:.0%} of it lasting" if fit.correlation > 0.05 else ""
            yield wrapped(
                f"The whole curve follows absorption and conduction; scatter {fit.scatter:.1%}{slow}.", "  "
            )
        else:
            yield wrapped(f"The curve does not follow the model: {fit.reason}.", "  ")
    if evaluated.step_conductances:
        yield ""
        yield "  Conductance of each step, memory removed (± covers 95 %)"
        for step in evaluated.step_conductances:
            volts = format_quantity(step.voltage, "voltage")
            value = format_quantity(step.conductance, "conductance")
            yield f"    {volts:>9}  {value:>10}  ± {format_quantity(2 * step.uncertainty, 'conductance', digits=2)}"
    if evaluated.graded is not None:
        yield ""
        yield wrapped(line_sentence(evaluated.graded), "  ")
    if evaluated.ramp_split is not None:
        yield ""
        yield wrapped(split_sentence(evaluated.ramp_split), "  ")
    if evaluated.forecast is not None:
        yield ""
        yield from _forecast(evaluated.forecast)
    yield from _causes(evaluated)


def _forecast(foreseen: Forecast) -> Iterator[str]:
    text = (
        f"Forecast, no judgement: from the readings up to {format_quantity(foreseen.seen_until, 'time')} the index at "
        f"{format_quantity(foreseen.at, 'time')} would be {foreseen.estimate:.2f} ({foreseen.lower:.2f} to "
        f"{foreseen.upper:.2f}, nine times in ten)"
    )
    if foreseen.probability_meets is not None:
        text += f"; the probability that it would meet its criterion: {probability_text(foreseen.probability_meets)}"
    yield wrapped(f"{text}. {COVERAGE} It replaces no hold that a standard asks for.", "  ")
    if behind := backing_sentence(foreseen):
        yield wrapped(behind, "  ")


def _causes(evaluated: Evaluated) -> Iterator[str]:
    if not evaluated.causes_sought:
        return
    yield ""
    yield wrapped("Probable causes, by weight of evidence (no probability is computed)", "  ")
    if not evaluated.causes:
        yield "    No cause stands out."
    for ranked in evaluated.causes:
        yield wrapped(f"{ranked.cause.name} (weight {ranked.weight:g})", "      ", "    - ")
        yield wrapped(f"For: {'; '.join(ranked.pro)}.", "      ")
        if ranked.con:
            yield wrapped(f"Against: {'; '.join(ranked.con)}.", "      ")
        yield wrapped(f"To confirm: {ranked.cause.confirm_by}", "      ")
