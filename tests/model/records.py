"""Short ways to make a record for the tests of the model. Every asset is invented."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from soakage.model.asset import Asset
from soakage.model.readings import Readings
from soakage.model.record import Record
from soakage.model.test import Test


def readings(count: int = 0, **changed: Any) -> Readings:
    """Return readings of a count of rows: 1 V, 1 A, 1 ohm, one a second."""
    columns: dict[str, Any] = {
        "time": np.arange(1.0, count + 1.0),
        "voltage": np.ones(count),
        "current": np.ones(count),
        "resistance": np.ones(count),
        "bound": np.zeros(count, np.int8),
    }
    return Readings(**(columns | changed))


def record(
    tested: tuple[str, ...] = (),
    earthed: tuple[str, ...] = (),
    guarded: tuple[str, ...] = (),
    **asset: Any,
) -> Record:
    """Return a record of one connection of an asset, without readings."""
    test = Test("insulation-resistance", tested=tested, earthed=earthed, guarded=guarded)
    return Record(Asset(**asset), test, readings())


def transformer(tested: tuple[str, ...], voltages: Mapping[str, float] | None = None, **asset: Any) -> Record:
    """Return a record of one connection of a transformer."""
    return record(tested, winding_voltages=voltages, asset_class="transformer", **asset)
