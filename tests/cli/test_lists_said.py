"""What a list and an import say, as text; and the tables they are made of."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest

from soakage.app.intake import Intake, TakenFile, TakenTest
from soakage.cli.import_text import MOST, intake_text
from soakage.cli.list_text import list_text, status_text
from soakage.cli.plain_text import value_text
from soakage.cli.tables import NOTHING, table
from soakage.cli.wrapping import NARROWEST, WIDEST, counted, width, wrapped
from soakage.errors import Fault
from soakage.model.verdict import Finding

Row = dict[str, Any]
TEST: Row = {
    "id": "0123456789abcdef", "asset": "Pump 3 motor", "section": "phase U", "day": "2026-03-14", "review": "draft",
    "status": "sound", "state": "current",
}  # fmt: skip
ASSET: Row = {
    "site": "Works", "asset": "Pump 3 motor", "serial": "s-1", "tag": "P-3", "class": "rotating-machine", "tests": 3,
    "last_day": "2026-03-14", "status": "sound",
}  # fmt: skip
FAULT = Fault("bad.csv", 3, "year", "long ago", "This is no year.", "a whole number", "Write 2004.")


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "110")


def flat(lines: Iterable[str]) -> str:
    return " ".join(" ".join(lines).replace("\u00a0", " ").split())


# Tables


@pytest.mark.parametrize(
    ("columns", "wanted"), (("10", NARROWEST), ("60", 60), ("85", 85), ("110", 110), ("400", WIDEST))
)
def test_lines_are_as_wide_as_the_terminal_within_bounds(
    monkeypatch: pytest.MonkeyPatch, columns: str, wanted: int
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert width() == wanted
    assert max(map(len, wrapped("word " * 200, "    ").splitlines())) <= wanted


def test_columns_are_as_wide_as_what_they_hold() -> None:
    lines = list(table(("a", "long heading", "c"), [("wide cell", 1, "x"), (None, "", 2.5)], "  "))
    assert lines == [
        "  a          long heading  c",
        "  " + "-" * 28,
        "  wide cell  1             x",
        f"  {NOTHING}                        2.5",
    ]


@pytest.mark.parametrize("count", (0, 1, 5))
def test_a_table_has_a_line_for_each_row(count: int) -> None:
    assert len(list(table(("a", "b"), [("x", "y")] * count))) == 2 + count


@pytest.mark.parametrize("columns", ("60", "80", "110"))
def test_the_last_column_is_wrapped_under_itself(monkeypatch: pytest.MonkeyPatch, columns: str) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    long = " ".join(f"word{place}" for place in range(40))
    lines = list(table(("name", "text"), [("first", long), ("second", "short")]))
    assert max(map(len, lines)) <= int(columns)
    assert " ".join(line[8:].strip() for line in lines[2:-1]) == long
    assert all(line.startswith(" " * 8) for line in lines[3:-1])


@pytest.mark.parametrize(
    ("number", "said"), ((0, "0 tests"), (1, "1 test"), (2, "2 tests"), (1000, "1000 tests"))
)
def test_what_is_counted_is_in_the_plural(number: int, said: str) -> None:
    assert counted(number, "test") == said


@pytest.mark.parametrize(
    ("name", "value", "said"),
    (
        ("rated_voltage", 6600.0, "6.60 kV"), ("rated_voltage", 6600, "6.60 kV"), ("year", 2004, "2004"),
        ("asset", "Pump", "Pump"), ("retired", True, "yes"), ("retired", False, "no"), ("", 0.000012345, "1.2345e-05"),
        ("", [1.5, "a", True], "1.5, a, yes"), ("", {"rated_voltage": 400.0, "b": 1}, "rated_voltage 400 V, b 1"),
        ("", None, "None"), ("rated_voltage", True, "yes"), ("", [], ""), ("winding_temperature", 313.15, "40 °C"),
    ),
)  # fmt: skip
def test_a_plain_value_as_text(name: str, value: object, said: str) -> None:
    assert value_text(name, value).replace("\u00a0", " ") == said


# Lists


def test_an_empty_list_says_how_to_fill_it() -> None:
    assert flat(list_text([], [], more=False)) == (
        "Nothing here. Take in record files with 'soakage import PATH', or ask for less."
    )


@pytest.mark.parametrize("tests", (0, 1, 3))
@pytest.mark.parametrize("assets", (0, 1, 2))
def test_assets_come_first_then_tests_each_counted(tests: int, assets: int) -> None:
    text = flat(list_text([TEST] * tests, [ASSET] * assets, more=False))
    assert (f"Tests ({tests})" in text) is (tests > 0)
    assert (f"Assets ({assets})" in text) is (assets > 0)
    if tests and assets:
        assert text.index("Assets (") < text.index("Tests (")
    if tests or assets:
        assert text.endswith("Look closer with 'soakage show ASSET' or 'soakage show TEST'.")


@pytest.mark.parametrize("more", (False, True))
def test_a_list_that_was_cut_says_so(more: bool) -> None:
    text = flat(list_text([TEST], [], more=more))
    assert ("There are more. Say which, or give --limit." in text) is more


def test_a_row_of_a_test_is_short_and_whole() -> None:
    line = list(list_text([TEST], [], more=False))[3]
    assert line.split() == [
        "0123456789ab",
        "Pump",
        "3",
        "motor",
        "phase",
        "U",
        "2026-03-14",
        "draft",
        "sound",
    ]


@pytest.mark.parametrize(
    ("changed", "said"),
    (
        ({}, "Works Pump 3 motor P-3 rotating-machine 3 2026-03-14 sound"),
        ({"asset": None}, "Works s-1 P-3 rotating-machine 3 2026-03-14 sound"),
        ({"site": None, "tag": None}, f"{NOTHING} Pump 3 motor {NOTHING} rotating-machine"),
        ({"tests": 0, "last_day": None, "status": None}, f"rotating-machine 0 {NOTHING} {NOTHING}"),
    ),
)
def test_a_row_of_an_asset(changed: Row, said: str) -> None:
    assert said in flat(list_text([], [ASSET | changed], more=False))


@pytest.mark.parametrize("status", ("sound", "watch", "unfit", "invalid test", None))
@pytest.mark.parametrize("state", ("current", "withdrawn"))
def test_a_status_says_that_a_test_was_withdrawn(status: str | None, state: str) -> None:
    said = status_text({"status": status, "state": state})
    shown = status or "not judged"
    assert said == (shown if state == "current" else f"withdrawn ({shown})")


# Imports


def taken_test(
    status: str | None = "sound", *, known: bool = False, findings: tuple[Finding, ...] = ()
) -> TakenTest:
    return TakenTest("t" * 32, "a" * 32, "Pump 3 motor", "phase U", known, status, "", findings)


def taken(*files: TakenFile, **values: Any) -> Intake:
    outcome = Intake(files=list(files))
    for name, value in values.items():
        setattr(outcome, name, value)
    return outcome


ADDED = TakenFile("a.csv", "added", (taken_test(),))
KNOWN = TakenFile("k.csv", "known", (taken_test(None, known=True),))
REFUSED = TakenFile("bad.csv", "refused", faults=(FAULT,))


@pytest.mark.parametrize(
    ("files", "said"),
    (
        ((), "0 files taken in (0 tests, 0 new assets), 0 known already, 0 refused."),
        ((ADDED,), "1 file taken in (1 test, 0 new assets), 0 known already, 0 refused."),
        ((ADDED, ADDED, KNOWN), "2 files taken in (2 tests, 0 new assets), 1 known already, 0 refused."),
        ((REFUSED, KNOWN), "0 files taken in (0 tests, 0 new assets), 1 known already, 1 refused."),
        (
            (TakenFile("m.csv", "added", (taken_test(), taken_test(None, known=True))),),
            "1 file taken in (1 test,",
        ),
    ),
)
def test_files_are_counted_by_what_came_of_them(files: tuple[TakenFile, ...], said: str) -> None:
    assert said in flat(intake_text(taken(*files)))


@pytest.mark.parametrize(
    ("files", "dry", "left", "said"),
    (
        ((ADDED,), False, 0, "Next: 'soakage list', or 'soakage show ASSET'."),
        ((KNOWN,), False, 0, "Next: 'soakage list', or 'soakage show ASSET'."),
        ((REFUSED,), False, 0, "Mend the files and give the command again."),
        ((), False, 0, "Mend the files and give the command again."),
        ((ADDED,), True, 0, "Give the same command without --dry-run to keep it."),
        (
            (ADDED,),
            False,
            4,
            "Give the same command again for the rest: what is kept is known and passed over.",
        ),
        ((ADDED,), True, 4, "Give the same command again for the rest"),
    ),
)
def test_what_to_do_next(files: tuple[TakenFile, ...], dry: bool, left: int, said: str) -> None:
    text = flat(intake_text(taken(*files, dry_run=dry), left))
    assert said in text
    assert (f"{left} not read" in text) is (left > 0)
    assert text.startswith("A dry run: nothing was kept. It would give:") is dry
    assert ("would be taken in" in text) is dry


def test_each_file_stands_once_with_all_its_tests() -> None:
    file = TakenFile(
        "m.csv", "added", (taken_test("sound"), taken_test("unfit"), taken_test(None, known=True))
    )
    lines = [line.split() for line in intake_text(taken(file))][2:5]
    assert [line[:2] for line in lines] == [["m.csv", "added"], ["Pump", "3"], ["Pump", "3"]]
    ends = ("sound", "unfit", "already here")
    assert [" ".join(line).endswith(end) for line, end in zip(lines, ends, strict=True)] == [True] * 3


def test_refused_files_stand_apart_with_every_reason() -> None:
    twice = TakenFile("b.csv", "refused", faults=(FAULT, FAULT))
    text = flat(intake_text(taken(ADDED, REFUSED, twice)))
    assert "Refused (2)" in text
    assert text.count("This is no year.") == 3
    assert text.count("Write 2004.") == 3
    assert "bad.csv, row 3" in text or "bad.csv" in text


def test_what_was_noticed_is_to_be_looked_at() -> None:
    finding = Finding("asset_nearly_known", "It is nearly called like another.", remedy="Look at both.")
    text = flat(intake_text(taken(TakenFile("a.csv", "added", (taken_test(findings=(finding, finding)),)))))
    assert "To look at (2) - a.csv: It is nearly called like another. Look at both." in text


def test_what_the_register_has_otherwise_is_said() -> None:
    text = flat(intake_text(taken(ADDED), differing=["Pump: year", "Pump: tag"]))
    assert "The register stands where the export differs: Pump: year; Pump: tag." in text
    assert "differs" not in flat(intake_text(taken(ADDED)))


@pytest.mark.parametrize("needy", (0, 1, 5, MOST + 7))
def test_of_very_many_files_only_those_that_need_a_look_are_shown(needy: int) -> None:
    files = [
        TakenFile(f"f{place}.csv", "added", (taken_test("watch" if place < needy else "sound"),))
        for place in range(MOST + 20)
    ]
    text = flat(intake_text(taken(*files)))
    shown = min(needy, MOST)
    assert text.count(" added Pump 3 motor") == shown
    assert f"{MOST + 20 - shown} more files not shown here; 'soakage list' shows their tests." in text
    assert f"{MOST + 20} files taken in" in text


@pytest.mark.parametrize(
    "status", ("unfit", "investigate", "invalid test", "not judged", "watch", "sound", None)
)
def test_which_statuses_need_a_look(status: str | None) -> None:
    files = [TakenFile(f"f{place}.csv", "added", (taken_test("sound"),)) for place in range(MOST)]
    text = flat(intake_text(taken(*files, TakenFile("odd.csv", "added", (taken_test(status),)))))
    assert ("odd.csv" in text) is (status not in ("sound", None))
