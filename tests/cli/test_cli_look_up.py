"""``soakage list``, ``show`` and ``export`` as a shell sees them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from running import INVESTIGATE, SOUND, UNFIT, record, soakage

STORE = ("--store", "s.sqlite")


@pytest.fixture(scope="module")
def works(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("works")
    files = {
        "a": record(SOUND, site='"North"', tag='"NP-3"', started="2025-03-14", instrument='"bridge (invented)"',
                    instrument_serial='"invented-7"', calibration_due="2027-01-01"),
        "b": record(UNFIT, site='"North"', tag='"NP-3"', started="2026-03-14"),
        "c": record(INVESTIGATE, site='"South"', started="2026-03-15"),
    }  # fmt: skip
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    assert (
        soakage("import", "a.csv", "b.csv", "c.csv", *STORE, "--as", "R. Invented", folder=folder).returncode
        == 0
    )
    return folder


def said(folder: Path, *words: str) -> str:
    done = soakage(*words, *STORE, folder=folder)
    assert done.returncode == 0, done.stderr
    return done.stdout


def flat(text: str) -> str:
    return " ".join(text.split())


def shape(folder: Path, *words: str) -> Any:
    return json.loads(said(folder, *words, "--json"))


def test_a_list_is_two_tables_and_says_what_is_next(works: Path) -> None:
    text = said(works, "list")
    lines = [line.split() for line in text.splitlines() if line.strip()]
    assert lines[0] == ["Assets", "(2)"]
    assert lines[1] == ["site", "asset", "tag", "class", "tests", "last", "status"]
    assert [row[0] for row in lines[3:5]] == ["North", "South"]
    assert lines[3][-1] == "unfit", "that of the newest visit"
    assert ["Tests", "(3)"] in lines
    assert "soakage show" in text


@pytest.mark.parametrize(
    ("words", "count"),
    (
        (("pump",), 3), (("NP-3",), 2), (("nowhere",), 0), (("--site", "South"), 1), (("--status", "unfit"), 1),
        (("--status", "Not Judged"), 0), (("--since", "2026-01-01"), 2), (("--until", "2025-12-31"), 1),
        (("--class", "cable"), 0), (("--unsigned",), 3), (("--limit", "1"), 1), (("pump", "--site", "North"), 2),
    ),
)  # fmt: skip
def test_filters(works: Path, words: tuple[str, ...], count: int) -> None:
    assert len(shape(works, "list", *words)["tests"]) == count


@pytest.mark.parametrize(
    ("words", "part"),
    (
        (("--status", "fine"), "no such status"),
        (("--since", "14.3.2026"), "2026-03-14"),
        (("--until", "soon"), "no day"),
    ),
)
def test_a_filter_that_is_none_is_told_with_what_is_allowed(
    works: Path, words: tuple[str, ...], part: str
) -> None:
    done = soakage("list", *words, *STORE, folder=works)
    assert done.returncode == 2
    assert part in done.stderr


def test_a_short_list_says_that_there_is_more(works: Path) -> None:
    assert "There are more" in said(works, "list", "--limit", "1")
    assert "There are more" not in said(works, "list", "--limit", "3")


def test_a_store_that_is_not_there_is_empty_and_not_made(tmp_path: Path) -> None:
    done = soakage("list", "--store", "none.sqlite", folder=tmp_path)
    assert done.returncode == 0
    assert "Nothing here" in done.stdout
    assert list(tmp_path.iterdir()) == []


def test_an_asset_by_tag_shows_nameplate_history_and_instrument(works: Path) -> None:
    text = flat(said(works, "show", "NP-3"))
    wanted = (
        "Pump 3 motor, North",
        "UNFIT (newest visit: 2026-03-14)",
        "2 tests, 2 not signed",
        "rated_voltage: 6.60",
        "year: 2004",
        "2025-03-14",
        "bridge (invented) invented-7, calibration due 2027-01-01",
    )
    for part in wanted:
        assert part in text, part
    assert text.index("2025-03-14") < text.index("2026-03-14 U, V, W"), "in order of day"


def test_a_name_of_two_assets_asks_which_by_id_and_takes_the_site_too(works: Path) -> None:
    done = soakage("show", "Pump 3 motor", *STORE, folder=works)
    assert done.returncode == 2
    assert (
        "2 assets: North, Pump 3 motor, NP-3; South, Pump 3 motor. Give the id of the one meant"
        in done.stderr
    )
    ids = done.stderr.strip().rstrip(".").split("meant: ")[1].split(", ")
    shown = [flat(said(works, "show", name)) for name in ids]
    assert sorted(text[:19] for text in shown) == ["Pump 3 motor, North", "Pump 3 motor, South"]
    assert flat(said(works, "show", "Pump 3 motor", "--site", "South")).startswith("Pump 3 motor, South")


def test_a_name_is_matched_whole(works: Path) -> None:
    for words in (("Pump 3",), ("pump 3 motor",), ("0123abcd",)):
        done = soakage("show", *words, *STORE, folder=works)
        assert done.returncode == 2, words
        assert "soakage list" in done.stderr


def test_a_test_by_the_beginning_of_its_id(works: Path) -> None:
    unfit = shape(works, "list", "--status", "unfit")["tests"][0]
    text = flat(said(works, "show", unfit["id"][:8]))
    judged = flat(soakage("judge", "b.csv", folder=works).stdout)
    assert flat(unfit["sentence"]) in judged
    for part in (unfit["id"], "UNFIT", flat(unfit["sentence"]), "Quantities", "Criteria", "Findings", "What to do next",
                 "Stated", "Readings (4)", "Verdicts given", "profile default", "R. Invented", "From b.csv",
                 "the file is kept as it came", "Local codes and licensed practice come first."):  # fmt: skip
        assert part in text, part
    assert soakage("show", unfit["id"][:7], *STORE, folder=works).returncode == 2


def test_what_show_prints_of_a_verdict_is_what_judge_says(works: Path) -> None:
    for name in ("a", "b", "c"):
        judged = json.loads(soakage("judge", f"{name}.csv", "--json", folder=works).stdout)["records"][0]
        wanted = judged["record"]["sha256"]
        tests = [shape(works, "show", row["id"]) for row in shape(works, "list")["tests"]]
        page = next(one for one in tests if one["origin"]["sha256"] == wanted)
        assert page["result"]["verdict"]["status"] == judged["verdict"]["status"]
        assert page["result"]["judgements"] == judged["judgements"]
        assert page["record"]["readings"]["time"] == [15, 30, 60, 600]
        shown = flat(said(works, "show", page["test"]["id"]))
        for judgement in judged["judgements"]:
            assert flat(judgement["name"]) in shown


def test_nothing_is_promised(works: Path) -> None:
    for words in (("list",), ("show", "NP-3"), ("show", shape(works, "list")["tests"][0]["id"])):
        text = said(works, *words).lower()
        for word in ("is safe", "may be energised", "all clear", "discharged."):
            assert word not in text


def test_an_export_says_what_it_wrote_and_refuses_a_full_folder(works: Path, tmp_path: Path) -> None:
    text = flat(said(works, "export", "--to", str(tmp_path / "out")))
    assert "3 tests of 2 assets" in text
    assert "soakage import" in text
    again = soakage("export", "--to", tmp_path / "out", *STORE, folder=works)
    assert again.returncode == 2
    assert "not empty" in again.stderr
    part = shape(works, "export", "--to", str(tmp_path / "part"), "--asset", "NP-3", "--since", "2026-01-01")
    assert (part["tests"], part["assets"]) == (1, 1)


@pytest.mark.parametrize("form", ("parquet", "xlsx", "json"))
def test_other_formats_are_read_by_judge_too(works: Path, tmp_path: Path, form: str) -> None:
    said(works, "export", "--to", str(tmp_path / "out"), "--format", form)
    (file,) = (tmp_path / "out" / "records").iterdir()
    assert file.suffix == f".{form}"
    judged = json.loads(soakage("judge", file, "--json").stdout)
    assert sorted(one["verdict"]["status"] for one in judged["records"]) == ["investigate", "sound", "unfit"]
