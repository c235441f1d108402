"""Parts of the page of a test on their own: figures against limits, values in words, files, charts beside others."""

from __future__ import annotations

import re
from typing import Any

import pytest

from soakage.model.verdict import QuantityValue
from soakage.units import Bound
from soakage.web.test_files import picture_type, sent
from soakage.web.test_view import moment, said, sized, without_title
from soakage.web.test_view_charts import residuals
from soakage.web.test_view_figures import WIDTH, bullet
from soakage.web.test_view_record import label
from soakage.web.test_view_record import said as value_said

NBSP = "\u00a0"


def plain(text: str) -> str:
    return text.replace(NBSP, " ")


# ------------------------------------------------------------------------------------------ bullets


def place(drawing: str, kind: str) -> float:
    """Return where a sign of a bullet stands."""
    found = re.search(rf'class="{kind}[^"]*"[^>]*?(?:d="M|cx=")([\d.]+)', drawing)
    assert found is not None, drawing
    return float(found[1])


ORDERS = [
    # value, lower, upper, beyond: where the diamond stands against the limit
    (622e6, 100e6, None, False, 1),
    (2.5e6, 5e6, None, True, -1),
    (1.61, 2.0, None, True, -1),
    (4.72, None, 2.0, True, 1),
    (1.1, None, 2.0, False, -1),
]


@pytest.mark.parametrize(("value", "lower", "upper", "beyond", "side"), ORDERS)
def test_a_value_stands_on_its_side_of_the_limit(
    value: float, lower: float | None, upper: float | None, beyond: bool, side: int
) -> None:
    name = "insulation_resistance" if value > 1e3 else "polarization_index"
    drawing = str(bullet(QuantityValue(name, value), lower=lower, upper=upper, beyond=beyond))
    assert (place(drawing, "now") - place(drawing, "limit")) * side > 0
    assert ('class="now beyond"' in drawing) == beyond


def test_the_strokes_of_a_limit_lean_to_its_forbidden_side() -> None:
    below = str(bullet(QuantityValue("polarization_index", 1.0), lower=2.0))
    above = str(bullet(QuantityValue("phase_spread", 1.0), upper=2.0))
    assert "l-7 5" in below
    assert "l7 5" in above


def test_resistances_are_laid_out_by_their_ratio_and_ratios_by_their_difference() -> None:
    def middle(name: str, low: float, mean: float, high: float) -> float:
        drawing = str(bullet(QuantityValue(name, low), lower=high, before=mean))
        return (place(drawing, "before") - place(drawing, "now")) / (
            place(drawing, "limit") - place(drawing, "now")
        )

    assert middle("insulation_resistance", 1e6, 1e8, 1e10) == pytest.approx(0.5, abs=0.01)
    assert middle("polarization_index", 1.0, 2.0, 3.0) == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize(("bound", "way"), ((Bound.LOWER, "l11 7"), (Bound.UPPER, "l-11 7")))
def test_a_bound_is_an_arrow_to_its_open_side(bound: Bound, way: str) -> None:
    drawing = str(bullet(QuantityValue("insulation_resistance", 1e11, bound, 1e9), lower=5e9))
    assert way in drawing
    assert "doubt" not in drawing


def test_the_stub_is_two_standard_uncertainties_each_way() -> None:
    drawing = str(bullet(QuantityValue("polarization_index", 2.0, uncertainty=0.25), lower=1.0, upper=3.0))
    stub = re.search(r'class="doubt" d="M([\d.]+) 15H([\d.]+)"', drawing)
    limits = [float(x) for x in re.findall(r'class="limit" d="M([\d.]+)', drawing)]
    assert stub is not None
    assert (float(stub[2]) - float(stub[1])) / (limits[1] - limits[0]) == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize("value", (0.0, -0.627, 1e-12, 5e13))
@pytest.mark.parametrize("limit", (None, 0.0, 0.25))
def test_nothing_is_drawn_outside(value: float, limit: float | None) -> None:
    shown = QuantityValue("voltage_dependence", value, uncertainty=abs(value) * 3)
    drawing = str(bullet(shown, upper=limit, before=0.1, sisters=[0.2]))
    for x in re.findall(r'(?:d="M|cx=")([\d.]+)', drawing):
        assert 0 <= float(x) <= WIDTH
    assert "nan" not in drawing


def test_a_figure_that_is_none_is_not_drawn() -> None:
    assert bullet(QuantityValue("polarization_index", float("nan")), lower=2.0) == ""


# ------------------------------------------------------------------------------------------ values in words

VALUES: list[tuple[str, Any, str]] = [
    ("rated_voltage", 6600.0, "6.6 kV"),
    ("winding_temperature", 298.15, "25 °C"),
    ("relative_humidity", 0.52, "52 %"),
    ("rated_power", 900000.0, "900 kW"),
    ("year", 2009, "2009"),
    ("winding", "form-wound", "form wound"),
    ("tag", "AP-2", "AP-2"),
    ("tested", ["U"], "U"),
    ("earthed", ["V", "W", "frame"], "V, W and frame"),
    ("calibration_due", "2021-01-31", "31 January 2021"),
    ("started", "2020-04-13T08:10:00+01:00", "13 April 2020, 08:10"),
    ("started", "2020-04-13", "2020-04-13"),
    ("accuracy", [{"offset": 5e-10, "reading": 0.05, "timing": 0.5}], "offset 500 pA, reading 5 %, timing 0.5 s"),
    ("winding_voltages", {"HV": 20000.0, "LV": 400.0}, "HV 20 kV, LV 400 V"),
    ("voltage_found", {"ac": 61.0}, "ac 61 V"),
    ("previous_test", {"voltage": 5000.0, "held": 600.0, "earthed": 120.0}, "voltage 5 kV, held 10 min, earthed 2 min"),
    ("steps", [{"at": 0.0, "voltage": 4000.0}, {"at": 60.0, "voltage": 8000.0}],
     "at 0 s, voltage 4 kV; at 1 min, voltage 8 kV"),
    ("something else", True, "yes"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "value", "shown"), VALUES, ids=[row[0] for row in VALUES])
def test_a_stated_value_is_written_as_it_is_read(name: str, value: Any, shown: str) -> None:
    assert plain(value_said(name, value)) == shown


def test_a_key_is_a_label() -> None:
    assert label("winding_temperature") == "Winding temperature"


MOMENTS = [
    ("2026-11-24T09:20:00.123Z", "24 November 2026, 09:20"), ("2026-11-24", "24 November 2026"), (None, "–"), ("", "–"),
]  # fmt: skip


@pytest.mark.parametrize(("given", "shown"), MOMENTS)
def test_a_time_of_the_store_is_a_time_in_words(given: str | None, shown: str) -> None:
    assert plain(moment(given)) == shown


@pytest.mark.parametrize(
    ("size", "shown"),
    ((0, "0 bytes"), (999, "999 bytes"), (1000, "1 kB"), (48_800, "48.8 kB"), (2_500_000, "2.5 MB")),
)
def test_a_size_is_readable(size: int, shown: str) -> None:
    assert plain(sized(size)) == shown


# ------------------------------------------------------------------------------------------ the sentence


def page(sentence: str | None, status: str | None, **asset: str) -> dict[str, Any]:
    """Return as much of a page as the sentence needs."""
    known = {"asset": "Pump 3 motor", "tag": None, "serial": None} | asset
    return {
        "asset": known,
        "record": {"stated": {}},
        "test": {"status": status, "sentence": sentence, "section": "U"},
    }


SENTENCES = [
    ("Pump 3 motor, phase U: polarization index is 1.61, where at least 2.00 is required. It meets its resistance.",
     "investigate", "Investigate.", "Polarization index is 1.61, where at least 2.00 is required.",
     "It meets its resistance."),
    ("Pump 3 motor: meets every deciding criterion: resistance 5 GΩ (at least 1 GΩ).", "sound", "Sound.",
     "Meets every deciding criterion.", "Resistance 5 GΩ (at least 1 GΩ)."),
    ("Pump 3 motor: not judged: no criterion of the profile decides this test.", "not judged", "Not judged.",
     "No criterion of the profile decides this test.", ""),
    (None, None, "Not judged.", "No verdict has been given yet.", ""),
]  # fmt: skip


@pytest.mark.parametrize(
    ("sentence", "status", "lead", "reason", "more"), SENTENCES, ids=lambda v: str(v)[:24]
)
def test_the_verdict_is_a_sentence_one_could_say_aloud(
    sentence: str | None, status: str | None, lead: str, reason: str, more: str
) -> None:
    assert said(page(sentence, status)) == {"lead": lead, "reason": reason, "more": more}


TITLES = [
    ("Pump 3 motor: 5 GΩ is read.", {}, "5 GΩ is read."),
    ("Pump 3 motor, phase U: 5 GΩ is read.", {}, "5 GΩ is read."),
    ("A: B motor, W: 5 GΩ.", {"asset": "A: B motor"}, "5 GΩ."),
    ("P-3: 5 GΩ.", {"asset": "", "tag": "P-3"}, "5 GΩ."),
    ("Nothing of the name. Then: this.", {}, "Nothing of the name. Then: this."),
]


@pytest.mark.parametrize(("sentence", "asset", "left"), TITLES)
def test_the_title_that_stands_above_is_not_said_again(
    sentence: str, asset: dict[str, str], left: str
) -> None:
    assert without_title(page(sentence, "sound", **asset), sentence) == left


# ------------------------------------------------------------------------------------------ what is left of a fit


def fitted(current: list[float], *, follows: bool = True, **stated: float) -> dict[str, Any]:
    """Return as much of a page as the residuals need: I = V (A t^-n + G) with A 1e-9, n 0.8, G 1e-10, V 5 kV."""
    values = {"absorption_coefficient": 1e-9, "absorption_exponent": 0.8, "conductance": 1e-10}
    times = [15.0, 60.0, 600.0]
    return {
        "result": {
            "fit": {"follows_model": follows},
            "quantities": {f"{name}_fitted": {"value": value} for name, value in values.items()},
        },
        "record": {
            "stated": stated,
            "readings": {"time": times, "voltage": [5000.0] * 3, "current": current, "bound": [0, 0, 0]},
        },
    }


def model(time: float) -> float:
    return float(5000.0 * (1e-9 * time**-0.8 + 1e-10))


def test_residuals_are_the_share_by_which_a_reading_departs() -> None:
    plot = residuals(fitted([model(15), 1.1 * model(60), 0.95 * model(600)]))
    assert plot is not None
    (points,) = [line["points"] for line in plot["lines"] if line["role"] == "measured"]
    assert [point[1] for point in points] == pytest.approx([0.0, 0.1, -0.05])
    assert plain(plot["alt"]) == "Largest departure 10 % at 1 min."


def test_there_are_none_where_the_model_is_not_followed_or_the_discharge_has_begun() -> None:
    readings = [model(15), model(60), model(600)]
    assert residuals(fitted(readings, follows=False)) is None
    plot = residuals(fitted(readings, discharge_started=100.0))
    assert plot is not None
    assert [point[0] for point in plot["lines"][1]["points"]] == [15.0, 60.0]


# ------------------------------------------------------------------------------------------ files

TYPES = [
    (b"\xff\xd8\xff\xe1rest", "image/jpeg"), (b"\x89PNG\r\n\x1a\nrest", "image/png"), (b"GIF89a", "image/gif"),
    (b"RIFF1234WEBP", "image/webp"), (b"RIFF1234WAVE", ""), (b"<svg", ""), (b"%PDF", ""), (b"", ""),
]  # fmt: skip


@pytest.mark.parametrize(("content", "kind"), TYPES)
def test_a_picture_is_known_by_how_it_begins(content: bytes, kind: str) -> None:
    assert picture_type(content) == kind


NAMES = ['a"b.txt', "a;b.txt", "a\r\nSet-Cookie: x.txt", "über.txt", "", "a/b.txt", "%00.txt"]


@pytest.mark.parametrize("name", NAMES)
def test_a_name_cannot_break_out_of_its_header(name: str) -> None:
    header = sent(b"x", name).headers["content-disposition"]
    plain_name = re.fullmatch(
        r"attachment; filename=\"([^\"]*)\"; filename\*=UTF-8''([A-Za-z0-9._~%-]*)", header
    )
    assert plain_name is not None, header
    assert not set(plain_name[1]) & set('";\r\n/')
