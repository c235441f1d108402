"""What a plan says about itself: what it assumed, what it could not plan, what its readings cannot tell."""

from __future__ import annotations

from soakage.app.plan_connections import Connection, Terminals
from soakage.app.plan_rising import Rising
from soakage.methods import method
from soakage.model.asset import Asset


def notes(
    asset: Asset,
    parts: Terminals,
    connections: tuple[Connection, ...],
    rising: tuple[Rising, ...],
    resolved: tuple[tuple[str, str], ...],
) -> tuple[str, ...]:
    """Return what was assumed, could not be planned or should be known.

    Parameters
    ----------
    asset : Asset
        Nameplate.
    parts : Terminals
        Its parts.
    connections : tuple of Connection
        Of the plan.
    rising : tuple of Rising
        Step and ramp tests of the plan.
    resolved : tuple of (str, str)
        Pairs whose own resistance follows from the readings.

    Returns
    -------
    tuple of str
        Sentences.
    """
    said = [parts.assumed] if parts.assumed else []
    if asset.asset_class == "rotating-machine" and asset.neutral is None and len(parts.live) > 1:
        said.append(
            "Phases singly need an open star point. Where it stays closed, join all phases and make one test "
            "(neutral = closed)."
        )
    missing = [c.title for c in connections if c.voltage is None and "cable-sheath" not in c.methods]
    if missing:
        key = {"transformer": "winding_voltages", "low-voltage-installation": "nominal_voltage"}
        wanted = key.get(asset.asset_class or "", "rated_voltage")
        said.append(f"No test voltage for {', '.join(missing)}: {wanted} is not stated, or no row holds.")
    if any("cable-sheath" in c.methods for c in connections):
        said.append("The voltage for the oversheath is the maker's: no table of this rule set gives one.")
    if any("circuit" in c.methods for c in connections):
        said.append(
            "Conductors not named stay open: a reading can only be lower than that of its own pair, never "
            "higher."
        )
    unresolved = [pair for pair in parts.pairs if pair not in resolved]
    if unresolved and "circuit" not in {name for c in connections for name in c.methods}:
        said.append("Each reading is of all insulation between the live part and the earthed ones together.")
        if asset.asset_class in method("terminal-set").classes:
            said.append("A terminal set, asked for by name, tells the pairs apart.")
    if any(not entry.overvoltage for entry in rising):
        said.append("The steps or ramp stay at or below the insulation-resistance voltage of the rating.")
    return tuple(said)
