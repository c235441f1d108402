"""Charts as data: what is served by the key of a plot, and a plot cut to a part."""

from __future__ import annotations

import csv
import gzip
import io
import re
import xml.etree.ElementTree as ET
from typing import Any

import pytest
from fastapi.testclient import TestClient

from soakage.errors import UsageError
from soakage.report import charts as reported
from soakage.units import Bound
from soakage.web.chart_data import as_csv, cut, name_of, numbers, table
from soakage.web.charts import lively
from soakage.web.shelf import Shelf

SVG = "{http://www.w3.org/2000/svg}"
Plot = dict[str, Any]


def plot(**more: Any) -> Plot:
    """A plot of a resistance that grows with time, with one bound and a limit."""
    points = [[float(t), 1e8 * t**0.4] for t in (15, 30, 60, 120, 300)]
    return {
        "kind": "resistance", "title": "Resistance against time", "alt": "The resistance rises.",
        "x": {"dimension": "time", "log": True}, "y": {"dimension": "resistance", "log": True},
        "lines": [{"role": "measured", "points": points}, {"role": "constant", "points": [[15.0, 5e8], [300.0, 5e8]]}],
        "rings": [points[2]], "labels": [[*points[2], "514 MΩ"]], "bounds": [[600.0, 1.5e9, 1]],
        "limits": [{"level": 1e8, "side": "below", "text": "at least 100 MΩ"}], "needs": [], **more,
    }  # fmt: skip


def many(count: int) -> Plot:
    points = [[float(t), 1e9] for t in range(1, count + 1)]
    return plot(lines=[{"role": "measured", "points": points}], rings=points[58:59], bounds=[])


# ------------------------------------------------------------------------------------ numbers


def test_numbers_are_readings_and_bounds_and_no_fitted_line() -> None:
    found = numbers(plot())
    assert [x for x, _, _ in found] == [15, 30, 60, 120, 300, 600]
    assert found[-1] == (600.0, 1.5e9, Bound.LOWER)
    assert all(bound is None for _, _, bound in found[:-1])


def test_where_there_are_no_readings_the_fitted_values_are_the_numbers() -> None:
    bars = {"bars": [[1000.0, 1e-9, 3e-9, 2e-9]], "lines": [], "bounds": []}
    assert numbers(plot(**bars)) == [(1000.0, 2e-9, None)]


def test_a_table_says_units_and_bounds() -> None:
    heads, rows = table(plot())
    assert heads == ["Time", "Resistance"]
    assert rows[2] == ["1\u00a0min", "514\u00a0MΩ"]
    assert rows[-1] == ["10\u00a0min", ">\u00a01.5\u00a0GΩ"]


@pytest.mark.parametrize("count", (40, 41, 600, 5000))
def test_a_table_can_be_read_however_many_readings_there_are(count: int) -> None:
    _, rows = table(many(count))
    assert len(rows) <= 42
    times = [row[0] for row in rows]
    if count >= 59:
        assert "59\u00a0s" in times  # a mark is never left out
    assert len(times) == len(set(times))


def test_csv_has_every_number_as_it_was_read() -> None:
    rows = list(csv.reader(io.StringIO(as_csv(plot()))))
    assert rows[0] == ["time_s", "resistance_ohm", "bound"]
    assert [(float(x), float(y)) for x, y, _ in rows[1:]] == [(x, y) for x, y, _ in numbers(plot())]
    assert [bound for _, _, bound in rows[1:]] == [""] * 5 + ["lower"]
    assert len(as_csv(many(5000)).splitlines()) == 5001


def test_csv_holds_nothing_a_spreadsheet_would_run() -> None:
    for line in as_csv(plot(title="=1+1", alt="@x")).splitlines()[1:]:
        assert re.fullmatch(r"[\d.e+,-]+(?:lower|upper)?", line)


def test_an_axis_of_another_kind_has_its_word() -> None:
    assert name_of("current") == ("Current", "A")
    assert name_of("fraction") == ("Fraction", "")


# ------------------------------------------------------------------------------------ a part


def test_a_part_has_only_what_lies_in_it() -> None:
    part = cut(plot(), 50.0, 400.0, log=None)
    assert [x for x, _, _ in numbers(part)] == [60, 120, 300]
    assert part["bounds"] == []
    assert part["rings"] == plot()["rings"]
    assert part["limits"] == plot()["limits"]
    assert cut(plot(), 100.0, None, log=None)["labels"] == []


def test_the_whole_is_left_as_it_is() -> None:
    assert cut(plot(), None, None, log=None) == plot()
    assert cut(plot(), None, None, log=True) == plot()


def test_axes_can_be_made_linear_and_a_linear_plot_never_logarithmic() -> None:
    linear = cut(plot(), None, None, log=False)
    assert not linear["x"]["log"]
    assert not linear["y"]["log"]
    ramp = plot(x={"dimension": "voltage", "log": False}, y={"dimension": "current", "log": False})
    assert cut(ramp, None, None, log=True) == ramp
    assert plot()["x"]["log"]


def test_what_belongs_to_two_times_goes_with_either() -> None:
    need = {"from": [60.0, 5e8], "to": [600.0, 1e9], "reading": None, "text": "index 2.0"}
    whole = plot(needs=[need], rules=[{"at": 60.0, "text": "mark"}, {"at": 10.0, "text": "before"}])
    assert cut(whole, 30.0, 700.0, log=None)["needs"] == [need]
    assert cut(whole, 30.0, 400.0, log=None)["needs"] == []
    assert [rule["at"] for rule in cut(whole, 30.0, 400.0, log=None)["rules"]] == [60.0]


@pytest.mark.parametrize(("low", "high"), ((61.0, 119.0), (50.0, 70.0), (700.0, None), (400.0, 50.0)))
def test_a_part_without_readings_is_refused(low: float, high: float | None) -> None:
    with pytest.raises(UsageError, match="Too few readings there"):
        cut(plot(), low, high, log=None)


# ------------------------------------------------------------------------------------ one specification


def test_the_page_draws_the_specification_of_the_report() -> None:
    served = lively(plot(), 900, 380, None, None, log=None)
    assert served["spec"] == reported.spec(plot(), "screen", width=900, height=380)
    assert served["whole"]
    assert served["readings"][2] == {
        "x": 60.0,
        "y": pytest.approx(1e8 * 60**0.4),
        "said": "1\u00a0min: 514\u00a0MΩ",
    }


def test_many_readings_are_told_in_part() -> None:
    assert len(lively(many(5000), 900, 380, None, None, log=None)["readings"]) <= 1500


def test_a_shelf_keeps_what_was_last_looked_at() -> None:
    shelf = Shelf()
    keys = [shelf.put(many(count)) for count in range(60, 60 + 300)]
    assert shelf.get(keys[0]) is None
    assert shelf.get(keys[-1]) is not None
    assert shelf.put(many(60)) == keys[0]
    drawn = []

    def draw() -> bytes:
        drawn.append(1)
        return b"drawing"

    assert [shelf.drawing(("a",), draw) for _ in range(3)] == [b"drawing"] * 3
    assert len(drawn) == 1


# ------------------------------------------------------------------------------------ served


@pytest.fixture
def address(client: TestClient) -> str:
    return str(client.app.state.house.shelf.put(plot()))  # type: ignore[attr-defined]


def test_a_drawing_has_its_typeface_inside_and_runs_nothing(client: TestClient, address: str) -> None:
    answer = client.get(f"/charts/{address}.svg?look=screen-dark&width=350&height=320")
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")
    drawn = ET.fromstring(answer.text)  # noqa: S314 - our own drawing
    assert drawn.attrib["width"] == "350"
    assert "Fira Sans" in (drawn.find(f"{SVG}style").text or "")  # type: ignore[union-attr]
    assert "#0C1312" in answer.text
    assert "var(--" not in answer.text
    assert "http" not in answer.text.replace("http://www.w3.org", "")
    assert len(gzip.compress(answer.content)) < 40_000


def test_a_bitmap_is_twice_as_fine(client: TestClient, address: str) -> None:
    content = client.get(f"/charts/{address}.png?width=400&height=300").content
    assert content[:8] == b"\x89PNG\r\n\x1a\n"
    # Portable Network Graphics, W3C: width and height at bytes 16 to 24 of the file (from memory).
    assert [int.from_bytes(content[at : at + 4], "big") for at in (16, 20)] == [800, 600]


def test_numbers_and_specification_are_served(client: TestClient, address: str) -> None:
    assert client.get(f"/charts/{address}.csv").text == as_csv(plot())
    said = client.get(f"/charts/{address}.json?width=700&height=300&from=50&to=400&log=false").json()
    assert [reading["x"] for reading in said["readings"]] == [60, 120, 300]
    assert not said["whole"]
    assert said["spec"]["layer"]


def test_what_is_drawn_is_kept_by_the_browser(client: TestClient, address: str) -> None:
    kept = client.get(f"/charts/{address}.svg").headers["cache-control"]
    assert kept == "private, max-age=86400, immutable"


@pytest.mark.parametrize(
    ("path", "status"),
    (("0" * 24 + ".svg", 404), ("0" * 24 + ".json", 404), ("x.svg", 422), ("../x.csv", 404), ("{key}.svg?width=9", 422),
     ("{key}.svg?width=1e9", 422), ("{key}.svg?look=screen", 422), ("{key}.json?from=nan", 422),
     ("{key}.json?from=inf&to=1", 422), ("{key}.json?from=400&to=50", 400), ("{key}.svg?height=99999", 422)),
)  # fmt: skip
def test_what_cannot_be_drawn_is_refused(client: TestClient, address: str, path: str, status: int) -> None:
    answer = client.get(f"/charts/{path.format(key=address)}")
    assert answer.status_code == status
    assert answer.json()["errors"]


def test_names_in_a_plot_are_text_wherever_they_stand(client: TestClient) -> None:
    evil = plot(title="<script>alert(1)</script>", alt='"><img src=x onerror=alert(1)>',
                limits=[{"level": 1e8, "side": "below", "text": "<script>alert(1)</script>"}])  # fmt: skip
    key = client.app.state.house.shelf.put(evil)  # type: ignore[attr-defined]
    assert "<script" not in client.get(f"/charts/{key}.svg").text


def test_charts_are_for_those_who_may_read() -> None:
    from web_help import outside_client

    assert outside_client().get(f"/charts/{'0' * 24}.svg").status_code == 401
