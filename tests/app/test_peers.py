"""Who is a peer, and where a value stands among them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
import scipy.stats as st

from histories import LIBRARY, TODAY, point, told, yearly
from soakage.app.peers import Kin, Peer, Peers, others_of, peer_rank
from soakage.units import Bound

OWN = Kin("rotating-machine", 6600.0, "thermosetting", 2004)
DAY = date(2020, 5, 1)


def peers(*values: float, own: Kin = OWN, kin: Kin = OWN, **changes: Any) -> Peers:
    return Peers(
        own, tuple(Peer(f"a{k}", kin, point(DAY, value, **changes)) for k, value in enumerate(values))
    )


TWELVE = tuple(1e8 * k for k in range(1, 13))


@pytest.mark.parametrize("value", (0.5e8, 1e8, 3.3e8, 6e8, 12e8, 9e9))
def test_the_percentile_is_that_of_scipy(value: float) -> None:
    found = peer_rank(point(DAY, value), peers(*TWELVE), LIBRARY, TODAY)
    assert found is not None
    assert found.percentile == pytest.approx(st.percentileofscore(TWELVE, value, kind="mean"))
    assert found.lower == found.upper == pytest.approx(found.percentile)
    assert found.median == pytest.approx(6.5e8)
    assert found.count == 12


@pytest.mark.parametrize(
    ("kin", "is_one"),
    (
        (OWN, True),
        (replace(OWN, rated_voltage=13200.0), True),
        (replace(OWN, rated_voltage=3300.0), True),
        (replace(OWN, rated_voltage=13300.0), False),
        (replace(OWN, rated_voltage=None), False),
        (replace(OWN, asset_class="cable"), False),
        (replace(OWN, insulation="thermoplastic"), False),
        (replace(OWN, insulation=None), False),
        (replace(OWN, year=1994), True),
        (replace(OWN, year=2015), False),
        (replace(OWN, year=None), False),
    ),
)
def test_peers_share_class_voltage_insulation_and_age(kin: Kin, is_one: bool) -> None:
    found = peer_rank(point(DAY), peers(*TWELVE, kin=kin), LIBRARY, TODAY)
    assert found is not None
    assert found.count == (12 if is_one else 0)


@pytest.mark.parametrize(
    "changes",
    (
        {"quantity": "polarization_index"},
        {"rule": "another"},
        {"base_temperature": 293.15},
        {"method": "ramp"},
    ),
)
def test_only_like_quantities_compare(changes: dict[str, Any]) -> None:
    found = peer_rank(point(DAY), peers(*TWELVE, **changes), LIBRARY, TODAY)
    assert found is not None
    assert found.count == 0
    assert found.reason == "0 peers; a percentile is given from 10 on."


def test_what_the_own_nameplate_does_not_state_is_not_asked_for() -> None:
    found = peer_rank(point(DAY), peers(*TWELVE, own=Kin("rotating-machine")), LIBRARY, TODAY)
    assert found is not None
    assert found.count == 12
    assert found.group == "rotating-machine"
    assert peer_rank(point(DAY), peers(*TWELVE, own=Kin(None)), LIBRARY, TODAY) is None


def test_the_group_is_said_in_words() -> None:
    found = peer_rank(point(DAY), peers(*TWELVE), LIBRARY, TODAY)
    assert found is not None
    said = found.group.replace("\N{NO-BREAK SPACE}", " ")
    assert said == "rotating-machine, 3.3 kV to 13.2 kV, thermosetting, 11 to 31 years old"


def test_a_value_over_range_stands_at_least_so_high() -> None:
    found = peer_rank(point(DAY, 6.5e8, bound=Bound.LOWER), peers(*TWELVE), LIBRARY, TODAY)
    assert found is not None
    assert found.lower == pytest.approx(50.0)
    assert found.upper == pytest.approx(100.0)


def test_peers_over_range_leave_the_place_open_below_them_only() -> None:
    others = peers(*TWELVE)
    over = Peers(
        OWN,
        tuple(
            replace(peer, point=replace(peer.point, value=2e8, bound=Bound.LOWER)) if k > 8 else peer
            for k, peer in enumerate(others.others)
        ),
    )
    found = peer_rank(point(DAY, 5.5e8), over, LIBRARY, TODAY)
    assert found is not None
    assert found.lower == pytest.approx(100 * 5 / 12)
    assert found.upper == pytest.approx(100 * 8 / 12)
    assert found.median is None


def test_others_are_the_latest_of_each_section_and_way() -> None:
    points = [
        *(("b", OWN, p) for p in yearly(5)),
        *(("b", OWN, p) for p in yearly(3, section="V")),
        *(("b", OWN, p) for p in yearly(3, quantity="polarization_index")),
        *(("c", OWN, p) for p in reversed(yearly(4))),
        *(("own", OWN, p) for p in yearly(5)),
    ]
    found = others_of("own", points)
    assert [(peer.asset, peer.point.day.year) for peer in found] == [
        ("b", 2014),
        ("b", 2012),
        ("b", 2012),
        ("c", 2013),
    ]
    assert others_of("own", []) == ()


def test_a_trend_carries_its_rank() -> None:
    found = told(yearly(6, level=1e10), peers=peers(*TWELVE))
    assert found.peers is not None
    assert found.peers.percentile == 100.0
    assert told(yearly(6)).peers is None
