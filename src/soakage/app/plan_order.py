"""The connections of a plan in the order they are made, each with its voltage."""

from __future__ import annotations

from dataclasses import replace

from soakage.app.plan_connections import (
    Connection,
    Terminals,
    each_pair,
    full_set,
    joined,
    one_by_one,
    sheath,
)
from soakage.app.plan_facts import voltage_facts
from soakage.app.plan_methods import Chosen
from soakage.app.plan_rising import Rising
from soakage.app.plan_voltage import INSULATION_RESISTANCE, Voltage, choose
from soakage.app.rules import Rules
from soakage.model.asset import Asset


def ordered(
    chosen: tuple[Chosen, ...],
    rising: tuple[Rising, ...],
    parts: Terminals,
    asset: Asset,
    purpose: str | None,
    rules: Rules,
) -> tuple[Connection, ...]:
    """Return the connections of a plan in the order they are made, each with its voltage.

    Parameters
    ----------
    chosen : tuple of Chosen
        Tests of the plan.
    rising : tuple of Rising
        Step and ramp tests among them.
    parts : Terminals
        Parts of the asset.
    asset : Asset
        Nameplate.
    purpose : str or None
        Why the test is made.
    rules : Rules
        Name the tables of voltages.

    Returns
    -------
    tuple of Connection
        With a voltage of None where no table gives one.
    """
    tops = {entry.method: entry.voltage.value for entry in rising}
    found: list[Connection] = []
    for entry in chosen:
        name = entry.method.id
        made = _of_method(name, parts, asset)
        common = None
        if name == "terminal-set":  # its readings are subtracted from one another: one voltage for all
            facts = voltage_facts(asset, made[0], purpose, parts.live)
            voltage = choose(rules, asset, facts, purpose=purpose)
            common = voltage.value if voltage else None
        for connection in made:
            own = voltage_at(connection, asset, purpose, rules)
            value = common if name == "terminal-set" else tops.get(name, own.value if own else None)
            _add(found, replace(connection, voltage=value))
    return tuple(found)


def _add(found: list[Connection], new: Connection) -> None:
    """Add a connection; ten minutes on a connection of the set give its one-minute reading too."""
    for place, old in enumerate(found):
        same = (old.tested, old.earthed, old.voltage) == (new.tested, new.earthed, new.voltage)
        if same and old.methods == ("terminal-set",) and new.methods == ("polarization-index",):
            found[place] = replace(old, methods=("polarization-index", "terminal-set"))
            return
    found.append(new)


def _of_method(name: str, parts: Terminals, asset: Asset) -> tuple[Connection, ...]:
    match name:
        case "terminal-set":
            return full_set(parts, name)
        case "circuit":
            return each_pair(parts, name)
        case "cable-sheath":
            return sheath(parts, name)
        case _ if asset.asset_class == "rotating-machine" and asset.neutral == "closed":
            return joined(parts, name)
        case _:
            return one_by_one(parts, name)


def voltage_at(connection: Connection, asset: Asset, purpose: str | None, rules: Rules) -> Voltage | None:
    """Return the insulation-resistance voltage of one connection; none for an oversheath.

    Parameters
    ----------
    connection : Connection
        What is live.
    asset : Asset
        Nameplate.
    purpose : str or None
        Why the test is made.
    rules : Rules
        Name the tables of voltages.

    Returns
    -------
    Voltage or None
        None where no table applies.
    """
    if "cable-sheath" in connection.methods:
        return None
    facts = voltage_facts(asset, connection, purpose)
    return choose(rules, asset, facts, role=INSULATION_RESISTANCE, purpose=purpose)
