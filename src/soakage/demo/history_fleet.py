"""The invented fleet: forty assets at three sites, and what is hidden in each.

No site, plant, maker, person or reading in it is real.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from soakage.demo.history_kinds import (
    ARMATURE,
    ASPHALT,
    BOARD,
    CABLE,
    DRY,
    FIELD,
    FORM_WOUND,
    GENERATOR,
    OIL,
    OIL_SET,
    PANEL,
    RANDOM_WOUND,
    ROTOR,
    Kind,
)
from soakage.demo.history_truth import Season

WORKS = "Tollowmere works (invented)"
POWER_HOUSE = "Ostrafell power house (invented)"
WATERWORKS = "Quenmarsh waterworks (invented)"
SITES = (WORKS, POWER_HOUSE, WATERWORKS)
# By site: word of its serials, testers of the first and of the second half, hours its clocks are ahead of UTC.
CREWS: Mapping[str, tuple[str, tuple[str, str], int]] = {
    WORKS: ("TW", ("Tester One (invented)", "Tester Two (invented)"), 1),
    POWER_HOUSE: ("OP", ("Tester Three (invented)", "Tester Three (invented)"), 0),
    WATERWORKS: ("QW", ("Tester Four (invented)", "Tester Five (invented)"), 2),
}
QUARTERLY = 0.25
TWO_YEARLY = 2.0


@dataclass(frozen=True, slots=True)
class Happening:
    """An event by its time before the end of the history [years], what it adds to ln R, and the slope after it."""

    kind: str
    before_end: float
    step: float
    slope: float | None = None


@dataclass(frozen=True, slots=True)
class Member:
    """One asset of the fleet.

    Parameters
    ----------
    site, name, tag : str
        Who it is.
    kind : Kind
        What it is.
    year : int
        Year its insulation was made.
    level : float
        Resistance at the base temperature at the beginning of the ten years [ohm].
    slope : float
        Slope of ln R [1/year].
    every : float
        Time between visits [years].
    last : int
        Days from its last visit to the end.
    own_slopes : mapping of str to float
        Slopes of sections that age otherwise.
    happenings : tuple of Happening
        In order of time.
    season : Season or None
        Its swing with the seasons.
    slip : int or None
        The visit, counted back from the last as 0, at which a value was entered in the wrong unit.
    edition_change : float or None
        Time before the end at which another edition began to judge [years].
    top : float or None
        Top of its instrument where nothing below it is ever read [ohm].
    decommissioned : float or None
        Time before the end at which it went out of service [years].
    kept_by_hand : float or None
        Time before the end until which only date, resistance and temperature were kept [years].
    plate : mapping
        Fields of the asset that differ from those of its kind.
    what : str
        What it is there to show.
    """

    site: str
    name: str
    tag: str
    kind: Kind
    year: int
    level: float
    slope: float
    every: float = 1.0
    last: int = 150
    own_slopes: Mapping[str, float] = field(default_factory=dict)
    happenings: tuple[Happening, ...] = ()
    season: Season | None = None
    slip: int | None = None
    edition_change: float | None = None
    top: float | None = None
    decommissioned: float | None = None
    kept_by_hand: float | None = None
    plate: Mapping[str, Any] = field(default_factory=dict)
    what: str = "ages evenly"


FLEET = (
    # ---- works
    Member(WORKS, "Kiln fan 1 motor", "KF-1", FORM_WOUND, 2006, 3.2e9, -0.02),
    Member(WORKS, "Kiln fan 2 motor", "KF-2", FORM_WOUND, 2006, 2.9e9, -0.03, last=152),
    Member(WORKS, "Mill 1 motor", "ML-1", FORM_WOUND, 2001, 2.6e9, -0.05, last=157, happenings=(
        Happening("change", 4.3, -0.9),), what="change point: one sudden fall, the slope as before"),
    Member(WORKS, "Mill 2 motor", "ML-2", FORM_WOUND, 1998, 1.1e9, -0.09, last=159, happenings=(
        Happening("rewind", 5.2, 1.6, -0.02),), what="rewound; the year of its insulation changes"),
    Member(WORKS, "Ash pump 1 motor", "AP-1", FORM_WOUND, 2009, 2.4e9, -0.04, last=163),
    Member(WORKS, "Ash pump 2 motor", "AP-2", FORM_WOUND, 2009, 2.5e9, -0.03, last=165, own_slopes={
        "phase W": -0.19}, what="one phase falls steadily towards its minimum, its sisters do not"),
    Member(WORKS, "Cooler fan motor", "CF-1", RANDOM_WOUND, 2010, 900e6, -0.03, last=40, kept_by_hand=0.0,
           slip=4, what="kept by hand; one value entered in the wrong unit, a factor of 1000 low"),
    Member(WORKS, "Conveyor 1 motor", "CV-1", RANDOM_WOUND, 2011, 700e6, -0.05, last=45),
    Member(WORKS, "Conveyor 2 motor", "CV-2", RANDOM_WOUND, 2011, 750e6, -0.04, last=47, kept_by_hand=5.0,
           what="kept by hand in its first years, then read at four marks"),
    Member(WORKS, "Conveyor 3 motor", "CV-3", RANDOM_WOUND, 2003, 520e6, -0.12, last=50, decommissioned=2.6,
           what="taken out of service; its history ends"),
    Member(WORKS, "Hoist drive armature", "HD-A", ARMATURE, 1996, 62e6, -0.05, last=70, edition_change=5.6,
           what="edition change: its minimum falls from 100 to 5 megohm between two editions"),
    Member(WORKS, "Hoist drive field", "HD-F", FIELD, 1996, 180e6, -0.03, last=70),
    Member(WORKS, "Works transformer 1", "WT-1", OIL, 1999, 21e9, -0.03, last=200),
    Member(WORKS, "Works transformer 2", "WT-2", OIL, 1994, 13e9, -0.11, last=202, happenings=(
        Happening("refill", 4.1, 0.85, -0.04),), what="its oil was treated and refilled"),
    Member(WORKS, "Works board A", "WB-A", BOARD, 2005, 46e9, -0.02, every=TWO_YEARLY, last=210),
    Member(WORKS, "Works board B", "WB-B", BOARD, 2014, 900e9, -0.01, last=212, top=100e9,
           what="beyond the range of its instrument at every visit: bounds only"),
    Member(WORKS, "Works cable 1", "WC-1", CABLE, 2007, 16e9, -0.03, last=220, plate={"length": 620.0}),
    Member(WORKS, "Works cable 2", "WC-2", CABLE, 1991, 6e9, -0.13, last=222, plate={"length": 940.0},
           happenings=(Happening("repair", 3.7, 0.7, -0.03),), what="a joint was repaired"),
    # ---- power house
    Member(POWER_HOUSE, "Set 1 stator", "S1-S", GENERATOR, 1997, 1.9e9, -0.04, last=30),
    Member(POWER_HOUSE, "Set 1 rotor", "S1-R", ROTOR, 1997, 240e6, -0.02, last=30),
    Member(POWER_HOUSE, "Set 2 stator", "S2-S", GENERATOR, 1999, 2.2e9, -0.03, last=36),
    Member(POWER_HOUSE, "Set 2 rotor", "S2-R", ROTOR, 1999, 260e6, -0.05, last=36),
    Member(POWER_HOUSE, "Old exhauster motor", "EX-1", ASPHALT, 1966, 420e6, -0.05, last=90,
           what="thermoplastic insulation of 1966: another temperature rule, an older minimum"),
    Member(POWER_HOUSE, "Feed pump motor", "FP-1", FORM_WOUND, 2012, 3.4e9, -0.01, last=95),
    Member(POWER_HOUSE, "Set transformer", "ST-1", OIL_SET, 1997, 18e9, -0.05, last=32),
    Member(POWER_HOUSE, "House transformer", "HT-1", DRY, 2008, 62e9, -0.03, last=33),
    Member(POWER_HOUSE, "House board", "HB-1", BOARD, 2008, 38e9, -0.04, last=34),
    Member(POWER_HOUSE, "Outgoing cable", "OC-1", CABLE, 2010, 22e9, -0.02, last=35, plate={"length": 380.0}),
    Member(POWER_HOUSE, "Governor pump motor", "GP-1", RANDOM_WOUND, 2008, 820e6, 0.0, last=31,
           what="does not age: its slope is nothing"),
    Member(POWER_HOUSE, "House panel", "HP-1", PANEL, 2008, 620e6, -0.02, every=TWO_YEARLY, last=37),
    # ---- waterworks
    Member(WATERWORKS, "Lift pump 1 motor", "LP-1", FORM_WOUND, 2004, 2.8e9, -0.03, last=120),
    Member(WATERWORKS, "Lift pump 2 motor", "LP-2", FORM_WOUND, 2004, 3.0e9, -0.02, last=122),
    Member(WATERWORKS, "River gate motor", "RG-1", RANDOM_WOUND, 2009, 260e6, -0.03, every=QUARTERLY, last=15,
           season=Season(0.6, 200), what="seasonal: outdoors, high in dry summers and low in damp winters"),
    Member(WATERWORKS, "Dosing pump motor", "DP-1", RANDOM_WOUND, 2015, 1.1e9, -0.02, last=110, kept_by_hand=4.0,
           what="kept by hand in its first years, then read at four marks"),
    Member(WATERWORKS, "Sludge pump motor", "SP-1", RANDOM_WOUND, 2007, 640e6, -0.06, last=112),
    Member(WATERWORKS, "Intake transformer", "IT-1", OIL_SET, 2003, 17e9, -0.04, last=130),
    Member(WATERWORKS, "Filter transformer", "FT-1", DRY, 2013, 70e9, -0.02, last=132),
    Member(WATERWORKS, "Intake cable", "IC-1", CABLE, 2003, 11e9, -0.05, last=134, every=TWO_YEARLY,
           plate={"length": 1150.0}),
    Member(WATERWORKS, "Filter board", "FB-1", BOARD, 2013, 52e9, -0.03, last=136),
    Member(WATERWORKS, "Workshop panel", "WP-2", PANEL, 2012, 540e6, -0.05, every=TWO_YEARLY, last=138),
)  # fmt: skip
