"""``soakage judge`` as a shell sees it: what it prints, where, and its exit status."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from running import INVESTIGATE, SOUND, UNFIT, WATCH, record, soakage


@pytest.fixture
def files(tmp_path: Path) -> Path:
    for name, currents in (
        ("sound", SOUND),
        ("watch", WATCH),
        ("investigate", INVESTIGATE),
        ("unfit", UNFIT),
    ):
        (tmp_path / f"{name}.csv").write_text(record(currents), encoding="utf-8")
    (tmp_path / "open.csv").write_text(record(winding_temperature=""), encoding="utf-8")
    (tmp_path / "bad.csv").write_text(record(rated_voltage='"1,500 V"', year='"long ago"'), encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("names", "code"),
    (
        (("sound",), 0), (("watch",), 0), (("investigate",), 1), (("unfit",), 1), (("open",), 2), (("bad",), 2),
        (("sound", "open"), 2), (("sound", "bad"), 2), (("sound", "unfit", "open", "bad"), 1),
    ),
)  # fmt: skip
def test_exit_status(files: Path, names: tuple[str, ...], code: int) -> None:
    done = soakage("judge", *(f"{name}.csv" for name in names), folder=files)
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr


def test_the_verdict_stands_first_with_its_reasons(files: Path) -> None:
    text = soakage("judge", "unfit.csv", folder=files).stdout
    for part in ("Pump 3 motor", "UNFIT", "50.0\u00a0MΩ", "at least 100\u00a0MΩ", "IEEE Std 43-2013", "Findings",
                 "What to do next", "Do not energise"):  # fmt: skip
        assert part in text
    assert text.index("UNFIT") < text.index("Criteria")
    assert "Local codes and licensed practice come first." in " ".join(text.split())
    assert "Rules: Default rule set (profile default)" in " ".join(text.split())


def test_nothing_is_promised_and_nothing_coloured(files: Path) -> None:
    for name in ("sound", "watch", "unfit"):
        text = soakage("judge", f"{name}.csv", folder=files, FORCE_COLOR="1").stdout
        assert "\x1b" not in text
        for word in ("is safe", "may be energised", "all clear", "discharged."):
            assert word not in text.lower()


def test_a_bad_file_is_told_on_the_error_stream_with_file_row_field_and_remedy(files: Path) -> None:
    done = soakage("judge", "bad.csv", "sound.csv", folder=files)
    assert "SOUND" in done.stdout, "good files are still judged"
    lines = done.stderr.splitlines()
    assert len(lines) == 2, "every fault at once"
    rated = next(line for line in lines if "rated_voltage" in line)
    assert rated.startswith("bad.csv:")
    for part in ("1,500 V", "Allowed: ", "1500", "1.5"):
        assert part in rated
    assert any("year" in line and "long ago" in line for line in lines)
    assert "bad.csv" not in done.stdout


def test_a_file_that_is_not_there(files: Path) -> None:
    done = soakage("judge", "nowhere.csv", folder=files)
    assert done.returncode == 2
    assert "nowhere.csv" in done.stderr
    assert "Traceback" not in done.stderr


def test_json_is_json_whatever_happens(files: Path) -> None:
    done = soakage("judge", "sound.csv", "bad.csv", "unfit.csv", "--json", folder=files)
    assert done.returncode == 1
    result = json.loads(done.stdout)
    assert [r["verdict"]["status"] for r in result["records"]] == ["sound", "unfit"]
    assert {e["field"] for e in result["errors"]} == {"rated_voltage", "year"}
    assert [e["row"] for e in result["errors"]] == sorted(e["row"] for e in result["errors"])
    assert all(e["file"] == "bad.csv" and e["row"] and e["remedy"] for e in result["errors"])
    assert json.loads(soakage("judge", "bad.csv", "--json", folder=files).stdout)["records"] == []


def test_sixty_columns_hold_every_line(files: Path) -> None:
    long_path = files / "a folder with a rather long name, as people make them" / "in it another.csv"
    long_path.parent.mkdir()
    accurate = record(
        accuracy='[{reading = "5 %", offset = "20 pA", timing = "0.5 s"}]', asset='"A name in full"'
    )
    long_path.write_text(accurate, encoding="utf-8")
    for name in ("sound", "investigate", "open", str(long_path.relative_to(files)).removesuffix(".csv")):
        text = soakage("judge", f"{name}.csv", folder=files, COLUMNS="60").stdout
        long = [line for line in text.splitlines() if len(line) > 60]
        assert long == []


def test_a_wide_terminal_is_used_up_to_110(files: Path) -> None:
    lengths = [
        len(line) for line in soakage("judge", "unfit.csv", folder=files, COLUMNS="200").stdout.splitlines()
    ]
    assert 100 <= max(lengths) <= 110


@pytest.mark.parametrize(
    ("options", "code", "part"),
    (
        (("--limit", "600 MOhm"), 1, "your own limit"),
        (("--limit", "400 MOhm"), 0, "your own limit"),
        (("--limit", "polarization_index 2.4"), 0, "at least 2.40"),
        (("--ratio", "600/30"), 0, "Resistance ratio 600 s / 30 s"),
        (("--temperature-rule", "ieee-43-2013.thermoplastic"), 0, "Halving per 10 K"),
        (("--winding-temperature", "95 degC"), 2, "outside the range"),
    ),
)
def test_options_of_the_rules(files: Path, options: tuple[str, ...], code: int, part: str) -> None:
    done = soakage("judge", "sound.csv", *options, folder=files)
    assert done.returncode == code, done.stderr
    assert part.replace("\u00a0", " ") in " ".join(done.stdout.replace("\u00a0", " ").split())


@pytest.mark.parametrize(
    ("options", "parts"),
    (
        (("--limit", "plenty"), ("plenty", "Known")),
        (("--limit", "200 V"), ("200 V",)),
        (("--limit", ""), ("limit is empty",)),
        (("--ratio", "30"), ("30", "120/30")),
        (("--ratio", "30/120"), ("later mark",)),
        (("--ratio", "a/b"), ("a",)),
        (("--temperature-rule", "hot"), ("'hot'", "ieee-43-2013.thermosetting")),
        (("--profile", "nobody"), ("'nobody'", "default")),
        (("--profile", "nobody.toml"), ("nobody.toml",)),
        (("--winding-temperature", "warm"), ("--winding-temperature", "warm")),
        (("--no-such-option",), ("no-such-option",)),
    ),
)
def test_wrong_options_are_said_in_words(
    files: Path, options: tuple[str, ...], parts: tuple[str, ...]
) -> None:
    done = soakage("judge", "sound.csv", *options, folder=files)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    for part in parts:
        assert part in done.stderr


def test_a_bare_table_is_judged_with_its_nameplate_by_options(tmp_path: Path) -> None:
    (tmp_path / "bare.csv").write_text("time [s],resistance [MOhm]\n60,6000\n", encoding="utf-8")
    done = soakage("judge", "bare.csv", "--class", "switchgear", "--method", "insulation-resistance",
                   "--rated-voltage", "12 kV", "--insulation-temperature", "20 degC", folder=tmp_path)  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "6.00\u00a0GΩ" in done.stdout


def test_a_profile_file_judges(files: Path) -> None:
    (files / "works.toml").write_text(
        '[profile]\nid = "works"\ntitle = "Works rules"\ninclude = "default"\n[demand]\nkeys = ["work_order"]\n',
        encoding="utf-8",
    )
    done = soakage("judge", "sound.csv", "--profile", "works.toml", folder=files)
    assert done.returncode == 2
    assert "work_order" in done.stdout
    assert "Works rules (profile works)" in " ".join(done.stdout.split())


def test_a_schedule_is_one_table(tmp_path: Path) -> None:
    (tmp_path / "board.csv").write_text(
        "# soakage = 1\n# class = low-voltage-installation\n# method = circuit\n# nominal_voltage = 230 V\n"
        "circuit,between,voltage,resistance\n1,L-PE,500 V,25 MOhm\n2,L-PE,500 V,0.8 MOhm\n3,L-PE,500 V,> 100 MOhm\n",
        encoding="utf-8",
    )
    done = soakage("judge", "board.csv", folder=tmp_path, COLUMNS="80")
    assert done.returncode == 1
    rows = [line for line in done.stdout.splitlines() if "L-PE" in line]
    assert [("unfit" in row, "sound" in row) for row in rows] == [(False, True), (True, False), (False, True)]
    assert ">\u00a0100\u00a0MΩ" in rows[2]
