"""How far a drying has come, as lines of text."""

from __future__ import annotations

from collections.abc import Iterator

from soakage.app.result import DryOut
from soakage.cli.wrapping import wrapped
from soakage.units import format_quantity

DASH = "\N{EN DASH}"


def dry_out_text(dry_out: DryOut) -> Iterator[str]:
    """Yield the lines of one dry-out: the sentence, its readings, the cautions."""
    yield wrapped(dry_out.sentence, "  ", "Drying: ")
    for point in dry_out.points:
        warm = DASH if point.temperature is None else format_quantity(point.temperature, "temperature")
        index = DASH if point.index is None else format_quantity(point.index, "ratio")
        resistance = format_quantity(point.resistance, "resistance")
        yield f"    {point.at:%Y-%m-%d %H:%M}  {resistance:>10}  {warm:>8}  index {index}"
    for caution in dry_out.cautions:
        yield wrapped(caution, "      ", "    - ")
    yield ""
