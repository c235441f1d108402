"""The facts the criteria ask for: what the record states, and what follows from its connection."""

from __future__ import annotations

from soakage.model.connection import (
    tested_winding_value,
    tested_windings,
    winding_connection,
    winding_part,
)
from soakage.model.record import Record


def facts(record: Record) -> dict[str, object]:
    """Return every stated key in SI and the derived facts that criteria name.

    Parameters
    ----------
    record : Record
        The record.

    Returns
    -------
    dict
        Missing facts are absent: the judge tries a missing nameplate value at each possibility.
    """
    found = record.stated()
    asset = record.asset
    if asset.insulation:
        family = asset.insulation_family
        if asset.asset_class != "rotating-machine":
            found["insulation"] = " ".join(asset.insulation.lower().split())
        elif family is not None:
            found["insulation"] = family
        else:
            del found["insulation"]
    if asset.asset_class == "rotating-machine":
        part = winding_part(record)
        if part:
            found["winding_part"] = part
        if asset.cooling:
            found["cooling"] = _cooling(asset.cooling)
    if asset.asset_class == "transformer":
        _transformer(record, found)
    return found


def _cooling(text: str) -> str:
    """Return ``water`` for a water-cooled winding whose passages are not said to be dried."""
    lower = text.lower()
    dried = any(word in lower for word in ("dried", "drained", "blown")) and "undried" not in lower
    return "water" if "water" in lower and not dried else lower


def _transformer(record: Record, found: dict[str, object]) -> None:
    windings = tested_windings(record)
    found["windings_joined"] = "yes" if len(windings) > 1 else "no"
    voltage = tested_winding_value(record, "winding_voltages")
    power = tested_winding_value(record, "winding_powers")
    connection = winding_connection(record)
    derived = {
        "tested_winding_voltage": voltage,
        "tested_winding_power": power,
        "winding_connection": connection,
        "phase_voltage": voltage / 3**0.5
        if voltage is not None and connection == "wye"
        else voltage
        if connection == "delta"
        else None,
    }
    found.update({key: value for key, value in derived.items() if value is not None})
