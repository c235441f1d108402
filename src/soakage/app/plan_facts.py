"""What the rule set may ask about a planned connection: the same facts as of a record of it."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from soakage.app.facts import facts
from soakage.app.plan_connections import Connection
from soakage.model.asset import Asset
from soakage.model.connection import tested_winding_value
from soakage.model.readings import Readings
from soakage.model.record import Record
from soakage.model.test import Paper, Test


def record_to_be(
    asset: Asset, method: str, connection: Connection | None = None, purpose: str | None = None
) -> Record:
    """Return the record a test will make, before anything is read.

    Parameters
    ----------
    asset : Asset
        Nameplate.
    method : str
        Id of the method.
    connection : Connection or None
        Which terminals are live; None for the asset as a whole.
    purpose : str or None
        Why the test is made.

    Returns
    -------
    Record
        Without readings.
    """
    nothing = np.empty(0)
    test = Test(method)
    if connection is not None:
        test = Test(
            method, connection.voltage, tested=connection.tested, earthed=connection.earthed,
            guarded=connection.guarded,
        )  # fmt: skip
    readings = Readings(nothing, nothing, nothing, nothing, np.empty(0, dtype=np.int8))
    return Record(asset, test, readings, paper=Paper(purpose=purpose))


def facts_to_be(
    asset: Asset, method: str, connection: Connection | None = None, purpose: str | None = None
) -> dict[str, object]:
    """Return what criteria and tables of voltages may ask about the test to be made.

    Parameters
    ----------
    asset : Asset
        Nameplate.
    method : str
        Id of the method.
    connection : Connection or None
        Which terminals are live; None for the asset as a whole.
    purpose : str or None
        Why the test is made.

    Returns
    -------
    dict
        Facts that are not stated are absent.
    """
    return facts(record_to_be(asset, method, connection, purpose))


def voltage_facts(
    asset: Asset, connection: Connection, purpose: str | None = None, parts: Iterable[str] = ()
) -> dict[str, object]:
    """Return the facts a table of test voltages is read with: windings joined take that of the weakest.

    Parameters
    ----------
    asset : Asset
        Nameplate.
    connection : Connection
        The connection.
    purpose : str or None
        Why the test is made.
    parts : iterable of str
        Windings that must all stand the voltage; those of the connection where empty.

    Returns
    -------
    dict
        Without `tested_winding_voltage` where the rating of any of them is not stated.
    """
    method = connection.methods[0]
    found = facts_to_be(asset, method, connection, purpose)
    if asset.asset_class != "transformer":
        return found
    found.pop("tested_winding_voltage", None)
    ratings = [
        tested_winding_value(
            record_to_be(asset, method, Connection((method,), (part,), ())), "winding_voltages"
        )
        for part in (tuple(parts) or connection.parts)
    ]
    stated = [rating for rating in ratings if rating is not None]
    if len(stated) == len(ratings):
        found["tested_winding_voltage"] = min(stated)
    return found
