"""Options, refusals and outputs of every command, called in this process."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from running import INVESTIGATE, SOUND, UNFIT, WATCH, record, soakage
from soakage.app.contract_schema import judge_schema
from soakage.cli import COMMANDS, LazyGroup, group
from soakage.cli.options import marks, stated
from soakage.cli.progress import MANY, progress_of
from soakage.cli.uncertainty_text import probability_text, share_text
from soakage.cli.wrapping import NARROWEST, WIDEST, width, wrapped
from soakage.errors import SoakageError, UsageError
from soakage.model.keys import KEYS

NB = "\N{NO-BREAK SPACE}"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, currents in (
        ("sound", SOUND),
        ("watch", WATCH),
        ("investigate", INVESTIGATE),
        ("unfit", UNFIT),
    ):
        (tmp_path / f"{name}.csv").write_text(record(currents), encoding="utf-8")
    return tmp_path


# ------------------------------------------------------------------------------------------------ the group
def test_every_command_is_there_and_none_else() -> None:
    context = click.Context(group)
    assert isinstance(group, LazyGroup)
    assert group.list_commands(context) == list(COMMANDS)
    for name in COMMANDS:
        command = group.get_command(context, name)
        assert command is not None
        assert command.name == name
        assert command.help
    assert group.get_command(context, "frobnicate") is None


@pytest.mark.parametrize("name", COMMANDS)
def test_the_help_of_a_command_speaks_of_its_options(name: str) -> None:
    text = soakage(name, "--help", COLUMNS="100").stdout
    assert text.startswith("Usage: ")
    assert "--help" in text
    assert "\x1b" not in text
    for forbidden in ("safe", "may be energised", "guarantee"):
        assert forbidden not in text.lower()


@pytest.mark.parametrize("name", ("judge", "report", "plan"))
def test_every_key_of_the_record_file_is_an_option(name: str) -> None:
    text = soakage(name, "--help", COLUMNS="200").stdout
    for key in KEYS.values():
        assert f"--{key.name.replace('_', '-')}" in text, key.name


@pytest.mark.parametrize("arguments", ((), ("-h",), ("--help",)))
def test_the_group_alone_shows_help(arguments: tuple[str, ...]) -> None:
    done = soakage(*arguments)
    text = done.stdout + done.stderr
    for name, line in COMMANDS.items():
        assert name in text
        assert line.split(":")[0] in " ".join(text.split())


@pytest.mark.parametrize(
    "arguments",
    (
        ("frobnicate",), ("--no-such",), ("judge",), ("judge", "--no-such", "x.csv"), ("report", "x.csv"),
        ("report",), ("plan", "--paper", "foolscap", "--class", "cable"),
        ("report", "x.csv", "-o", "y.pdf", "--paper", "a5"),
        ("plan",), ("plan", "--class", "spaceship"), ("plan", "--relative-permittivity", "much", "--class", "cable"),
        ("explain", "no-such-thing"), ("explain", "dew_point", "--with", "x"), ("explain", "dew_point", "="),
        ("explain", "dew_point", "ambient_temperature="), ("explain", "profile", "--profile", "nobody"),
        ("judge", "nowhere.csv"), ("plan", "nowhere.csv"),
    ),
)  # fmt: skip
def test_what_does_not_fit_is_refused_in_words(arguments: tuple[str, ...], folder: Path) -> None:
    done = soakage(*arguments, folder=folder)
    assert done.returncode == 2
    assert done.stderr.strip(), "the reason stands on the error stream"
    assert "Traceback" not in done.stderr
    assert len(done.stderr) < 4000


# ---------------------------------------------------------------------------------------------- option readers
@pytest.mark.parametrize(
    ("texts", "pairs"),
    (
        ((), ()),
        (("120/30",), ((120.0, 30.0),)),
        (("10 min/1 min",), ((600.0, 60.0),)),
        (("600/60", "60/30"), ((600.0, 60.0), (60.0, 30.0))),
        ((" 2 min / 30 s ",), ((120.0, 30.0),)),
        (("1 h/60 s",), ((3600.0, 60.0),)),
    ),
)
def test_ratios_are_read(texts: tuple[str, ...], pairs: tuple[tuple[float, float], ...]) -> None:
    assert marks(texts) == pairs


@pytest.mark.parametrize(
    "text", ("30", "30/120", "60/60", "60/0", "a/b", "60/30/15", "/", "600/", "5 V/1 V", "60/-30", "")
)
def test_ratios_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(SoakageError):
        marks((text,))


@given(st.floats(0.1, 1e5), st.floats(0.1, 1e5))
def test_a_ratio_keeps_its_order(one: float, other: float) -> None:
    text = f"{one!r} s/{other!r} s"
    if one > other:
        assert marks((text,)) == ((one, other),)
    else:
        with pytest.raises(UsageError, match="later mark comes first"):
            marks((text,))


def test_only_keys_that_were_given_are_stated() -> None:
    given_options = {"key_class": "cable", "key_year": None, "paper": "a4", "key_notes": "", "json": True}
    assert stated(given_options) == {"class": "cable", "notes": ""}
    assert stated({}) == {}


# --------------------------------------------------------------------------------------------------- wrapping
@pytest.mark.parametrize(
    ("columns", "used"), ((1, 60), (59, 60), (60, 60), (61, 61), (110, 110), (111, 110), (999, 110))
)
def test_the_width_is_held_between_its_ends(columns: int, used: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    assert width() == used
    assert NARROWEST <= width() <= WIDEST


WORDS = st.lists(
    st.text(st.characters(categories=("L", "N")), min_size=1, max_size=20), min_size=1, max_size=80
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(words=WORDS, columns=st.sampled_from((60, 80, 110)))
def test_wrapping_loses_no_word_and_breaks_none(
    words: list[str], columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    text = " ".join(words)
    lines = wrapped(text, "      ", "    - ").splitlines()
    assert " ".join(" ".join(lines).replace("    - ", "", 1).split()) == " ".join(text.split())
    assert all(len(line) <= columns for line in lines)
    assert lines[0].startswith("    - ")
    assert all(line.startswith("      ") for line in lines[1:])


def test_a_figure_and_its_unit_never_part(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    for before in range(50, 62):
        lines = wrapped("x" * before + f" 100{NB}MΩ at 40{NB}°C").splitlines()
        assert any(f"100{NB}MΩ" in line for line in lines)
        assert any(f"40{NB}°C" in line for line in lines)


# -------------------------------------------------------------------------------------------------- progress
def test_nobody_is_shown_progress_where_nobody_looks(capsys: pytest.CaptureFixture[str]) -> None:
    with progress_of(MANY * 10) as step:
        assert step is None
    assert capsys.readouterr() == ("", "")


@pytest.mark.parametrize(("files", "shown"), ((MANY - 1, False), (MANY, True)))
def test_a_person_is_shown_progress_of_much(files: int, shown: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    class Screen:
        written = ""

        def isatty(self) -> bool:
            return True

        def write(self, text: str) -> int:
            self.written += text
            return len(text)

        def flush(self) -> None:
            pass

    screen = Screen()
    monkeypatch.setattr("sys.stderr", screen)
    with progress_of(files) as step:
        assert (step is not None) is shown
        if step is not None:
            for done in range(1, 101):
                step(done, 100)
    assert bool(screen.written) is shown


# ------------------------------------------------------------------------------------------------ probabilities
@pytest.mark.parametrize(
    ("probability", "text"),
    (
        (1.0, f"over 99.9{NB}%"), (0.9991, f"over 99.9{NB}%"), (0.999, f"99.9{NB}%"),
        (0.9949, f"99.5{NB}%"), (0.99, f"99{NB}%"), (0.95, f"95{NB}%"), (0.5, f"50{NB}%"),
        (0.012, f"1.2{NB}%"), (0.0009, f"under 0.1{NB}%"), (0.0, f"under 0.1{NB}%"),
    ),
)  # fmt: skip
def test_no_probability_is_surer_than_its_model(probability: float, text: str) -> None:
    shown = probability_text(probability)
    assert shown == text


@given(st.floats(0, 1))
def test_a_probability_is_always_words_with_a_per_cent_sign(probability: float) -> None:
    shown = probability_text(probability)
    assert shown.endswith("%")
    assert shown not in (f"0{NB}%", f"100{NB}%")
    figure = float(share_text(probability).split(NB)[0].replace("\N{MINUS SIGN}", "-"))
    assert figure == pytest.approx(100 * probability, rel=0.06)


# ------------------------------------------------------------------------------------------------------ judge
def leaves(value: Any) -> Iterator[Any]:
    if isinstance(value, dict):
        for item in value.values():
            yield from leaves(item)
    elif isinstance(value, list):
        for item in value:
            yield from leaves(item)
    else:
        yield value


@pytest.mark.parametrize(("name", "code"), (("sound", 0), ("watch", 0), ("investigate", 1), ("unfit", 1)))
def test_text_and_json_say_one_thing(folder: Path, name: str, code: int) -> None:
    text = soakage("judge", f"{name}.csv", folder=folder)
    told = soakage("judge", f"{name}.csv", "--json", folder=folder)
    assert text.returncode == told.returncode == code
    result = json.loads(told.stdout)
    jsonschema.validate(result, judge_schema())
    assert not [v for v in leaves(result) if isinstance(v, float) and not math.isfinite(v)]
    (shown,) = result["records"]
    flat = " ".join(text.stdout.split())
    assert shown["verdict"]["status"].upper() in flat
    assert " ".join(shown["verdict"]["sentence"].split()) in flat
    for action in shown["verdict"]["actions"]:
        assert " ".join(action.split()) in flat


@pytest.mark.parametrize(
    ("options", "status"),
    (
        (("--limit", "499 MOhm"), "sound"),
        (("--limit", "500 MOhm"), "sound"),
        (("--limit", "501 MOhm"), "unfit"),
        (("--limit", "polarization_index 2.5"), "sound"),
        (("--limit", "polarization_index 2.6"), "unfit"),
        (("--limit", "polarization_index < 2.6"), "sound"),
        (("--limit", "polarization_index < 2.4"), "unfit"),
        (("--limit", "499 MOhm", "--limit", "polarization_index 9"), "unfit"),
    ),
)
def test_own_limits_decide_on_their_edge(folder: Path, options: tuple[str, ...], status: str) -> None:
    done = soakage("judge", "sound.csv", *options, "--json", folder=folder)
    (shown,) = json.loads(done.stdout)["records"]
    assert shown["verdict"]["status"] == status
    own = [j for j in shown["judgements"] if j["criterion"].startswith("user.")]
    assert len(own) == options.count("--limit")


@pytest.mark.parametrize("key", ("rated_voltage", "winding_temperature", "test_voltage", "year"))
@pytest.mark.parametrize(
    "text", ("many", "1,2,3", "-5 kW", "NaN", "\N{GREEK CAPITAL LETTER OMEGA}", "x" * 300)
)
def test_a_wrong_option_is_named_with_what_was_given(folder: Path, key: str, text: str) -> None:
    done = soakage("judge", "sound.csv", f"--{key.replace('_', '-')}={text}", folder=folder)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert f"--{key.replace('_', '-')}" in done.stderr
    assert text[:20] in done.stderr


@pytest.mark.parametrize(("key", "code"), (("winding-temperature", 2), ("year", 0), ("asset", 0)))
def test_an_empty_option_takes_back_what_the_file_states(folder: Path, key: str, code: int) -> None:
    done = soakage("judge", "sound.csv", f"--{key}=", folder=folder)
    assert done.returncode == code


def test_an_option_stands_over_the_file(folder: Path) -> None:
    at_forty = json.loads(soakage("judge", "sound.csv", "--json", folder=folder).stdout)
    at_thirty = json.loads(
        soakage("judge", "sound.csv", "--winding-temperature", "30 degC", "--json", folder=folder).stdout
    )
    one, other = (
        r["records"][0]["quantities"]["insulation_resistance_60s_corrected"]["value"]
        for r in (at_forty, at_thirty)
    )
    assert other < one, "a cooler winding reads higher than it will at the base temperature"


def test_judging_twice_says_the_same(folder: Path) -> None:
    first, second = (
        soakage("judge", "unfit.csv", "watch.csv", "--json", folder=folder).stdout for _ in range(2)
    )
    assert first == second


# ------------------------------------------------------------------------------------------------------- plan
CLASSES = {
    "rotating-machine": (
        "--rated-voltage",
        "6.6 kV",
        "--winding",
        "form-wound",
        "--insulation",
        "thermosetting",
    ),
    "cable": ("--rated-voltage", "15 kV", "--length", "800 m"),
    "switchgear": ("--rated-voltage", "12 kV"),
    "low-voltage-installation": ("--nominal-voltage", "230 V"),
    "transformer": ("--winding-voltages", '{HV = "11 kV", LV = "400 V"}', "--filling", "oil"),
}


@pytest.mark.parametrize("name", CLASSES)
@pytest.mark.parametrize("columns", ("60", "100"))
def test_a_plan_is_plain_within_its_width_and_defers(name: str, columns: str, tmp_path: Path) -> None:
    done = soakage("plan", "--class", name, *CLASSES[name], folder=tmp_path, COLUMNS=columns)
    assert done.returncode == 0, done.stderr
    assert "\x1b" not in done.stdout
    assert [line for line in done.stdout.splitlines() if len(line) > int(columns)] == []
    flat = " ".join(done.stdout.split())
    assert "Local codes and licensed practice come first." in flat
    assert flat.index("Cautions") < flat.index("Connections"), "cautions stand first"
    for forbidden in (" safe ", "may be energised", "is dead", "is discharged", "all clear"):
        assert forbidden not in flat.lower()


@pytest.mark.parametrize("name", CLASSES)
def test_a_plan_in_json_is_finite(name: str, tmp_path: Path) -> None:
    done = soakage("plan", "--class", name, *CLASSES[name], "--json", folder=tmp_path)
    result = json.loads(done.stdout)
    assert not [v for v in leaves(result) if isinstance(v, float) and not math.isfinite(v)]
    assert result["cautions"]
    assert result["methods"]


@pytest.mark.parametrize("name", CLASSES)
def test_no_class_is_planned_in_a_hazardous_area_without_a_certificate(name: str, tmp_path: Path) -> None:
    done = soakage(
        "plan", "--class", name, *CLASSES[name], "--hazardous-area", "yes", "-o", "sheet.csv", folder=tmp_path
    )
    assert done.returncode == 2
    assert list(tmp_path.iterdir()) == [], "nothing is written for a test that is not planned"
    assert "Connections" not in done.stdout


@pytest.mark.parametrize(
    ("output", "code"), (("plan.docx", 2), ("nowhere/card.pdf", 2), ("sheet.csv", 0), ("SHEET.CSV", 0))
)
def test_what_a_plan_is_written_to(output: str, code: int, tmp_path: Path) -> None:
    done = soakage("plan", "--class", "cable", *CLASSES["cable"], "-o", output, folder=tmp_path)
    assert done.returncode == code, done.stderr
    assert bool(list(tmp_path.iterdir())) is (code == 0)
    assert not list(tmp_path.glob(".*"))


@pytest.mark.parametrize("name", CLASSES)
def test_a_sheet_filled_in_is_read_back(name: str, tmp_path: Path) -> None:
    done = soakage("plan", "--class", name, *CLASSES[name], "-o", "sheet.csv", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    for sheet in tmp_path.glob("*.csv"):
        judged = soakage("judge", sheet.name, folder=tmp_path)
        assert "Traceback" not in judged.stderr
        assert judged.returncode == 2, "an empty sheet is never sound"


# ------------------------------------------------------------------------------------------------------ report
def test_a_report_that_is_there_is_written_anew(folder: Path) -> None:
    (folder / "out.xlsx").write_bytes(b"old")
    done = soakage("report", "sound.csv", "-o", "out.xlsx", folder=folder)
    assert done.returncode == 0
    first = (folder / "out.xlsx").read_bytes()
    assert first.startswith(b"PK")
    soakage("report", "sound.csv", "-o", "out.xlsx", folder=folder)
    assert (folder / "out.xlsx").read_bytes() == first, "the same records give the same bytes"


def test_a_report_says_each_visit_with_its_status(folder: Path) -> None:
    done = soakage("report", "sound.csv", "unfit.csv", "-o", "out.xlsx", folder=folder)
    assert done.returncode == 1
    assert "Pump 3 motor: unfit." in done.stdout
    assert "2 records: 1 unfit, 1 sound." in done.stdout
