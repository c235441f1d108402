"""Complete tests of a site, against which a forecast is measured and its band rescaled."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from soakage.app.drafting import Draft, draft
from soakage.app.result import Forecast
from soakage.app.rules import Rules
from soakage.app.window import Window
from soakage.methods.base import Shape
from soakage.model.readings import Bounds, Floats
from soakage.model.record import Record
from soakage.physics.conformal import FEWEST_TESTS, archive_scale
from soakage.physics.forecast import FEWEST, forecast_index

INDEX_MARK, FIRST_MARK = 600.0, 60.0


@dataclass(frozen=True, slots=True)
class Look:
    """Readings from which an index may be foreseen: times [s], currents [A] and bounds, arrays of shape (n,)."""

    time: Floats
    current: Floats
    bound: Bounds


@dataclass(frozen=True, slots=True)
class CompleteTest:
    """A test that reached its mark: class of its asset, its readings, the index they gave."""

    asset_class: str | None
    readings: Look
    index: float


@dataclass(frozen=True, slots=True)
class Backing:
    """How many complete tests stand behind a forecast, and the factor on the width of its band."""

    tests: int
    scale: float


@dataclass(frozen=True, slots=True)
class Archive:
    """The complete tests of a site; what they say of forecasts made at one time is worked out once."""

    tests: tuple[CompleteTest, ...]
    known: dict[tuple[str | None, float], Backing] = field(default_factory=dict)

    def backing(self, asset_class: str | None, seen_until: float) -> Backing:
        """Return what stands behind a forecast from readings up to a time.

        Parameters
        ----------
        asset_class : str or None
            Class of the asset: tests of another class are not exchangeable with it.
        seen_until : float
            Last reading the forecast was made from [s].

        Returns
        -------
        Backing
            With a factor of 1 while there are fewer complete tests than rescaling needs.
        """
        key = (asset_class, seen_until)
        if key not in self.known:
            self.known[key] = self._worked(asset_class, seen_until)
        return self.known[key]

    def _worked(self, asset_class: str | None, seen_until: float) -> Backing:
        looks = [
            (early, test.index)
            for test in self.tests
            if test.asset_class == asset_class and (early := upto(test.readings, seen_until)) is not None
        ]
        if len(looks) < FEWEST_TESTS:
            return Backing(len(looks), 1.0)
        forecasts = [
            forecast_index(look.time, look.current, look.bound, mark=INDEX_MARK) for look, _ in looks
        ]
        found = archive_scale(forecasts, [index for _, index in looks])
        return Backing(found.tests, found.scale)


def complete_tests(records: Sequence[Record], rules: Rules) -> Archive:
    """Return the complete tests among records: constant voltage, index read, nothing that forbids judging it.

    Parameters
    ----------
    records : sequence of Record
        Of an archive; those that are not complete are passed over.
    rules : Rules
        What judges, the same as for the records at hand.

    Returns
    -------
    Archive
    """
    return Archive(tuple(_complete(draft(record, rules) for record in records)))


def _complete(drafts: Iterable[Draft]) -> Iterable[CompleteTest]:
    for item in drafts:
        index = item.found.values.get("polarization_index")
        readings = look(item.window) if item.method.shape is Shape.HOLD else None
        if index is None or readings is None or index.bound is not None:
            continue
        if "polarization_index" in item.found.blocked or item.record.test.ended not in (None, "complete"):
            continue
        yield CompleteTest(item.record.asset.asset_class, readings, index.value)


def look(window: Window | None) -> Look | None:
    """Return the readings of a hold that a forecast can use; None where their times do not rise."""
    if window is None or np.isnan(window.time).any():
        return None
    keep = (window.time > 0) & (window.current > 0) & (window.bound == 0)
    time = window.time[keep]
    return Look(time, window.current[keep], window.bound[keep]) if (np.diff(time) > 0).all() else None


def upto(readings: Look, seen_until: float) -> Look | None:
    """Return the readings up to a time; None where they are too few, or end before the first mark."""
    keep = readings.time <= seen_until
    time = readings.time[keep]
    if time.size < FEWEST or time[-1] < FIRST_MARK:
        return None
    return Look(time, readings.current[keep], readings.bound[keep])


def backing_sentence(foreseen: Forecast) -> str:
    """Return what stands behind a forecast, in words; empty where no archive was given."""
    tests = foreseen.archive_tests
    if tests is None:
        return ""
    held = f"{tests} complete test{'' if tests == 1 else 's'} of this class in the archive"
    if tests < FEWEST_TESTS:
        return f"{held}, fewer than the {FEWEST_TESTS} that rescaling needs: the band is not rescaled."
    return (
        f"Band rescaled by {foreseen.scale:.2f} from {held}, each foreseen from the same time; it then holds nine "
        "times in ten on average over tests like them, not for one machine."
    )
