"""Files found in folders, read one at a time, taken in: what is passed over, what is refused, when it stops."""

from __future__ import annotations

from collections.abc import Callable
from itertools import count
from pathlib import Path

import pytest

from soakage.app.rules import default_rules
from soakage.errors import InputError, UsageError
from soakage.importers.reading import read_bytes
from soakage.wiring.taking import files_in, import_files, read_incoming, recipe_reader
from wired import hands, take, text, write

RECIPE = """\
soakage-recipe = 1
name = "{name}"
kind = "csv"
layout = "row"

[constants]
class = "cable"
method = "insulation-resistance"

[[column]]
heading = "R"
reading = "resistance"
unit = "MOhm"
"""


def never() -> bool:
    return False


def after(number: int) -> Callable[[], bool]:
    """What says stop once it was asked so often."""
    asked = count()
    return lambda: next(asked) >= number


# Which files


@pytest.mark.parametrize(
    ("files", "found"),
    (
        (("a.csv", "b.csv"), ("a.csv", "b.csv")), (("b.csv", "a.csv"), ("a.csv", "b.csv")),
        (("sub/a.csv", "a.csv"), ("a.csv", "sub/a.csv")), (("a.csv", "notes.doc"), ("a.csv",)),
        (("a.CSV",), ("a.CSV",)), (("a.csv", ".hidden.csv"), ("a.csv",)), (("a.csv", ".git/b.csv"), ("a.csv",)),
        (("a.xlsx", "~$a.xlsx"), ("a.xlsx",)), (("a/b/c/d.csv", "a/b.csv"), ("a/b.csv", "a/b/c/d.csv")),
        (("a.csv", "photo.jpg", "x"), ("a.csv",)),
    ),
)  # fmt: skip
def test_a_folder_gives_what_can_be_read_sorted(
    tmp_path: Path, files: tuple[str, ...], found: tuple[str, ...]
) -> None:
    write(tmp_path, dict.fromkeys(files, ""))
    assert files_in([tmp_path]) == [str(tmp_path / name) for name in found]


@pytest.mark.parametrize(
    ("endings", "found"), ((("txt",), None), ((".txt",), ("b.txt",)), ((".csv", ".txt"), ("a.csv", "b.txt")))
)
def test_endings_may_be_said(tmp_path: Path, endings: tuple[str, ...], found: tuple[str, ...] | None) -> None:
    write(tmp_path, {"a.csv": "", "b.txt": ""})
    if found is None:
        with pytest.raises(UsageError, match=r"holds no file that can be read\. Files end in txt"):
            files_in([tmp_path], endings)
    else:
        assert files_in([tmp_path], endings) == [str(tmp_path / name) for name in found]


def test_files_come_as_named_folders_in_between_and_each_once(tmp_path: Path) -> None:
    write(tmp_path, {"z.csv": "", "in/a.csv": "", "in/b.csv": "", "odd.doc": ""})
    paths = [tmp_path / name for name in ("z.csv", "in", "in/a.csv", "odd.doc", "z.csv", "gone.csv")]
    assert files_in(paths) == [
        str(tmp_path / n) for n in ("z.csv", "in/a.csv", "in/b.csv", "odd.doc", "gone.csv")
    ]
    assert files_in([]) == []


def test_a_folder_without_files_is_said(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(UsageError, match="empty: the folder holds no file"):
        files_in([tmp_path / "empty"])


# One at a time


def test_files_are_opened_when_they_are_asked_for(tmp_path: Path) -> None:
    folder = write(tmp_path, {"a.csv": text(), "b.csv": text("Pump 2")})
    incoming = read_incoming([str(folder / "a.csv"), str(folder / "b.csv")], read_bytes, never)
    assert next(incoming).records[0].asset.name == "Pump 1"
    (folder / "b.csv").write_text(text("Pump 9"), encoding="utf-8")
    assert next(incoming).records[0].asset.name == "Pump 9"
    assert next(incoming, None) is None


@pytest.mark.parametrize("stop", range(4))
def test_no_more_are_read_once_it_is_to_stop(tmp_path: Path, stop: int) -> None:
    folder = write(tmp_path, {f"{n}.csv": text(f"Pump {n}") for n in range(3)})
    found = list(read_incoming(files_in([folder]), read_bytes, after(stop)))
    assert [file.file for file in found] == files_in([folder])[:stop]


def test_what_cannot_be_opened_or_read_stands_there_with_its_reason(tmp_path: Path) -> None:
    write(tmp_path, {"bad.csv": text(day='"in spring"'), "good.csv": text()})
    names = [str(tmp_path / name) for name in ("gone.csv", "bad.csv", "good.csv")]
    gone, bad, good = read_incoming(names, read_bytes, never)
    assert "cannot be opened" in str(gone.faults[0])
    assert (gone.file, gone.records, gone.data) == (names[0], (), b"")
    assert [fault.field for fault in bad.faults] == ["started"]
    assert (good.faults, len(good.records), good.data) == ((), 1, text().encode())


# Into a store


def test_what_is_seen_and_what_is_kept_is_counted(tmp_path: Path) -> None:
    write(tmp_path, {f"in/{n}.csv": text(f"Pump {n}") for n in range(3)})
    seen: list[int] = []
    kept: list[int] = []
    with hands(tmp_path) as held:
        taken = import_files(
            held, files_in([tmp_path / "in"]), default_rules(), seen=seen.append, kept=kept.append
        )
        assert (taken.count("added"), taken.tests_added, len(taken.assets_added)) == (3, 3, 3)
        assert (seen, kept) == ([1, 2, 3], [3])


@pytest.mark.parametrize("stop", (0, 1, 2))
def test_what_was_read_before_the_stop_is_kept_and_the_rest_comes_with_the_next(
    tmp_path: Path, stop: int
) -> None:
    write(tmp_path, {f"in/{n}.csv": text(f"Pump {n}") for n in range(3)})
    files = files_in([tmp_path / "in"])
    with hands(tmp_path) as held:
        first = import_files(held, files, default_rules(), stopped=after(stop))
        assert first.count("added") == stop
        again = import_files(held, files, default_rules())
        assert (again.count("known"), again.count("added")) == (stop, 3 - stop)


def test_a_dry_run_tells_the_same_and_makes_no_store(tmp_path: Path) -> None:
    write(tmp_path, {"in/a.csv": text(), "in/b.csv": text(day="2027-01-01"), "in/bad.csv": "nothing"})
    files = files_in([tmp_path / "in"])
    with hands(tmp_path) as held:
        tried = import_files(held, files, default_rules(), dry_run=True)
        assert not (tmp_path / "store.sqlite").exists()
        done = import_files(held, files, default_rules())
    assert [file.outcome for file in tried.files] == [file.outcome for file in done.files]
    assert [t.status for file in tried.files for t in file.tests] == [
        t.status for f in done.files for t in f.tests
    ]


def test_one_refused_file_keeps_no_other_out(tmp_path: Path) -> None:
    with hands(tmp_path) as held:
        taken = take(
            held, tmp_path, {"a.csv": text(), "bad.csv": text(kind="teapot"), "c.csv": text("Pump 2")}
        )
        assert [file.outcome for file in taken.files] == ["added", "refused", "added"]
        assert "teapot" in str(taken.files[1].faults[0])
        assert len(held.tests(assets=taken.assets_added)) == 2


# By a recipe


def test_without_a_recipe_each_file_is_read_by_its_own_importer(tmp_path: Path) -> None:
    with hands(tmp_path) as held:
        read, endings = recipe_reader(held, None, {"asset": "Given"})
    (record,) = read(text().encode(), "a.csv")
    assert endings == ()
    assert record.asset.name == "Given"
    assert {finding.code for finding in record.findings} >= {"key_overridden"}


def test_a_recipe_says_which_endings_it_reads(tmp_path: Path) -> None:
    write(tmp_path, {"own.toml": RECIPE.format(name="own")})
    with hands(tmp_path) as held:
        read, endings = recipe_reader(held, str(tmp_path / "own.toml"), {"site": "Works"})
        (record,) = read(b"R\n500\n", "a.csv")
        assert endings == (".csv", ".txt", ".tsv")
        assert (record.asset.site, record.asset.asset_class) == ("Works", "cable")
        with pytest.raises(UsageError, match=r"no recipe of this name is kept\. Kept: none yet"):
            recipe_reader(held, "other", {})
        with pytest.raises(InputError):
            read(b"no such heading\n1\n", "a.csv")
