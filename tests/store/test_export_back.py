"""What is exported comes back: the same tests under the same ids, the same nameplates, whatever the format."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path
from shutil import copytree
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from engines import NewAddress
from keeping import filled, opened
from soakage.app.intake import Incoming, Intake, take_in
from soakage.app.lookup import the_asset, the_test
from soakage.app.remarks import attach, happened, note
from soakage.app.revising import revise, withdraw
from soakage.app.rules import default_rules
from soakage.app.signing import sign_off
from soakage.errors import UsageError
from soakage.importers.reading import read_bytes
from soakage.model.asset import Asset
from soakage.model.readings import Readings
from soakage.model.record import Record
from soakage.model.test import Conditions, Instrument, Paper
from soakage.model.test import Test as Stated
from soakage.store import schema
from soakage.store.memory import StoreMemory
from soakage.store.outgoing import Chosen
from soakage.wiring.export_back import ExportRead, import_export, is_export
from soakage.wiring.exporting import FORMATS, export
from soakage.wiring.recipes import keep_recipe

ASSETS = ("feed-pump-motor", "house-panel")
# What a test is, as its row says it; who wrote it and when is the other store's own.
_TEST = ("id", "asset", "section", "visit", "instrument", "method", "test_voltage", "day", "started", "content",
         "revision", "readings", "file", "file_sha256", "row", "state", "status", "sentence")  # fmt: skip
_OWN: dict[str, Iterable[str]] = {
    "test": _TEST, "asset": ("id", "fields"), "site": ("id", "fields"), "instrument": ("id", "fields"),
    "visit": ("id", "asset", "name", "day"), "recipe": ("id", "name", "text"),
    "finding": ("test", "place", "code", "sentence"), "figure": ("test", "quantity", "value", "bound"),
}  # fmt: skip


def held(memory: StoreMemory) -> dict[str, list[tuple[Any, ...]]]:
    """Return all that a store knows, but who said it and when."""
    with memory.store.reading() as connection:
        found = {}
        for name, columns in _OWN.items():
            table = schema.metadata.tables[name]
            rows = connection.execute(select(*(table.c[column] for column in columns)))
            found[name] = sorted((tuple(map(_said, row)) for row in rows), key=repr)
        table = schema.remark
        wanted = table.c.action.in_(("noted", "attached", "happened", "calibrated"))
        rows = connection.execute(
            select(table.c.kind, table.c.subject, table.c.action, table.c.fields).where(wanted)
        )
        found["remark"] = sorted(tuple(row) for row in rows)
        return found


def _said(value: Any) -> Any:
    # fits that run side by side differ in the last figures by who stands beside whom
    return f"{value:.6g}" if isinstance(value, float) else value


def back(memory: StoreMemory, folder: Path, *, dry_run: bool = False) -> tuple[Intake, list[str]]:
    taken = Intake(dry_run=dry_run)
    return taken, import_export(memory, folder, default_rules(), taken)


@pytest.fixture(scope="module")
def lived(tmp_path_factory: pytest.TempPathFactory) -> StoreMemory:
    """A store with revisions, a withdrawal, notes, an event, an attachment, a recipe and a sign-off."""
    tmp_path = tmp_path_factory.mktemp("lived")
    memory, _ = filled(str(tmp_path / "lived.sqlite"), ASSETS)
    rules = default_rules()
    asset = the_asset(memory, "Feed pump motor")
    tests = memory.tests(assets=[asset.id])
    record = tests[0].record
    warmer = replace(record, conditions=replace(record.conditions, winding_temperature=305.0))
    revise(memory, tests[0], warmer, rules, "The thermometer was read wrong.")
    withdraw(memory, tests[1], rules, "Taken on the wrong winding.")
    sign_off(memory, [tests[2]], signed=True)
    note(memory, asset, "The gland leaks.\nSeen by the crew.")
    note(memory, the_test(memory, tests[3].id), "=1+1 is no formula")
    happened(memory, asset, "repair", date(2021, 3, 4), "New bearings.")
    attach(memory, asset, "..\\photo.JPG", "image/jpeg", b"\xff\xd8 invented")
    (tmp_path / "own.toml").write_text(
        'soakage-recipe = 1\nname = "own"\nkind = "csv"\nlayout = "row"\n\n[constants]\nclass = "cable"\n'
        'method = "insulation-resistance"\n\n[[column]]\nheading = "R"\nreading = "resistance"\nunit = "MOhm"\n',
        encoding="utf-8",
    )
    keep_recipe(memory, tmp_path / "own.toml")
    return memory


@pytest.fixture(scope="module")
def exported(lived: StoreMemory, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Its export as record files; to be read, not changed."""
    folder = tmp_path_factory.mktemp("exported") / "out"
    export(lived, folder)
    return folder


@pytest.fixture
def own(exported: Path, tmp_path: Path) -> Path:
    """A copy of the export that a test may damage."""
    return Path(copytree(exported, tmp_path / "out"))


@pytest.mark.parametrize("form", FORMATS)
def test_everything_comes_back(lived: StoreMemory, made_address: str, tmp_path: Path, form: str) -> None:
    counts = export(lived, tmp_path / "out", form=form)
    assert counts["tests"] == 60
    other = opened(made_address, "somebody else")
    taken, differing = back(other, tmp_path / "out")
    assert (taken.count("added"), taken.count("refused"), differing) == (60, 0, [])
    before, after = held(lived), held(other)
    for name in before:
        assert after[name] == before[name], name
    again, _ = back(other, tmp_path / "out")
    assert again.count("known") == 60
    assert held(other) == before, "once more changes nothing"


def test_either_engine_is_exported_from(new_made: NewAddress, tmp_path: Path) -> None:
    memory, _ = filled(new_made(), ["river-gate-motor"])
    export(memory, tmp_path / "out")
    other = opened(new_made())
    back(other, tmp_path / "out")
    assert held(other) == held(memory)
    assert held(memory)["test"]


def test_revisions_come_with_their_reasons_and_who_gave_them(made_address: str, exported: Path) -> None:
    other = opened(made_address, "somebody else")
    back(other, exported)
    with other.store.reading() as connection:
        rows = connection.execute(
            select(schema.revision.c.reason, schema.revision.c.person).where(schema.revision.c.number == 2)
        )
        (reason, person) = rows.one()
        (withdrawn,) = connection.execute(
            select(schema.entry.c.reason).where(schema.entry.c.action == "withdrawn")
        ).one()
    assert reason.startswith("The thermometer was read wrong. From an export: N. Invented, 20")
    assert person == "somebody else", "who takes it in is who says it here"
    assert withdrawn == "Taken on the wrong winding."


def test_a_sign_off_is_its_signers_alone(made_address: str, exported: Path) -> None:
    other = opened(made_address)
    back(other, exported)
    with other.store.reading() as connection:
        assert set(connection.execute(select(schema.test.c.review)).scalars()) == {"draft"}
    told = [json.loads(line) for line in (exported / "tests.jsonl").read_text(encoding="utf-8").splitlines()]
    assert [row["review"] for row in told].count("signed") == 1, "it is told all the same"


def test_every_verdict_ever_given_is_told(lived: StoreMemory, exported: Path) -> None:
    lines = (exported / "verdicts.jsonl").read_text(encoding="utf-8").splitlines()
    told = [json.loads(line) for line in lines]
    with lived.store.reading() as connection:
        given = set(connection.execute(select(schema.verdict.c.entry)).scalars())
    assert {row["entry"] for row in told} == given
    assert len(given) > 60
    assert all(row["result"]["verdict"]["status"] == row["status"] for row in told)


def test_what_the_register_states_stands_and_the_difference_is_said(
    lived: StoreMemory, made_address: str, exported: Path
) -> None:
    asset = the_asset(lived, "Feed pump motor")
    other = opened(made_address)
    with other.changing() as change:
        change.state("asset", asset.id, {"asset": "Feed pump motor", "year": 1999})
    _, differing = back(other, exported)
    assert differing == ["Feed pump motor: year"]
    assert the_asset(other, "Feed pump motor").values["year"] == 1999
    assert the_asset(other, "Feed pump motor").values["tag"] == "FP-1"


def test_a_dry_run_keeps_nothing(made_address: str, exported: Path) -> None:
    other = opened(made_address)
    taken, _ = back(other, exported, dry_run=True)
    assert (taken.count("added"), len(taken.assets_added)) == (60, 2)
    assert held(other)["test"] == held(other)["asset"] == []


@pytest.mark.parametrize(
    ("chosen", "assets", "tests"),
    (
        (Chosen(site="Ostrafell power house (invented)"), {"Feed pump motor", "House panel"}, 60),
        (
            Chosen(since="2023-01-01", site="Ostrafell power house (invented)"),
            {"Feed pump motor", "House panel"},
            None,
        ),
        (Chosen(site="nowhere"), set(), 0),
    ),
)
def test_a_part_of_it(
    lived: StoreMemory, tmp_path: Path, chosen: Chosen, assets: set[str], tests: int | None
) -> None:
    counts = export(lived, tmp_path / "out", chosen)
    register = json.loads((tmp_path / "out" / "register.json").read_text(encoding="utf-8"))
    assert {row["fields"]["asset"] for row in register["assets"]} == assets
    told = [
        json.loads(line)
        for line in (tmp_path / "out" / "tests.jsonl").read_text(encoding="utf-8").splitlines()
    ]
    assert len(told) == counts["tests"]
    assert tests is None or len(told) == tests
    assert all(row["day"] >= (chosen.since or "") for row in told)
    assert {row["asset"] for row in told} <= {row["id"] for row in register["assets"]}


def test_a_folder_that_holds_something_is_left_alone(lived: StoreMemory, tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "thesis.txt").write_text("ten years of work", encoding="utf-8")
    with pytest.raises(UsageError, match="not empty"):
        export(lived, tmp_path / "mine")
    assert [file.name for file in (tmp_path / "mine").iterdir()] == ["thesis.txt"]


def damaged(folder: Path, top: str) -> Path:
    path = next(file for file in sorted((folder / top).rglob("*")) if file.is_file())
    path.write_bytes(path.read_bytes().replace(b"6", b"7") + b"#")
    return path


def test_a_file_that_was_changed_is_refused_with_its_test_alone(made_address: str, own: Path) -> None:
    path = damaged(own, "records")
    taken, _ = back(opened(made_address), own)
    refused = [file for file in taken.files if file.outcome == "refused"]
    assert len(refused) == 1
    assert path.name in str(refused[0].faults[0])
    assert "not what was exported" in str(refused[0].faults[0])
    assert taken.count("added") == 59


@pytest.mark.parametrize("path", ("../../secret", "/etc/passwd", "records/../../x"))
def test_a_list_cannot_lead_out_of_its_folder(own: Path, path: str) -> None:
    manifest = own / "export.json"
    listed = json.loads(manifest.read_text(encoding="utf-8"))
    listed["files"].append({"path": path, "sha256": "0" * 64, "size": 1})
    manifest.write_text(json.dumps(listed), encoding="utf-8")
    with pytest.raises(UsageError, match="no such file"):
        ExportRead(own).content(path)


def test_an_export_that_was_broken_off_is_none(own: Path) -> None:
    assert is_export(own)
    (own / "export.json").unlink()
    assert not is_export(own)


@pytest.mark.parametrize("name", ("../up", "con", "a/b", "=cmd", "…", "x" * 300, "tail. ", "new\nline"))
def test_no_name_leads_out_of_the_folder_or_is_no_name(
    tmp_path: Path, new_made: NewAddress, name: str
) -> None:
    text = '# soakage = 1\n# class = "cable"\n# method = "insulation-resistance"\nresistance [MOhm]\n500\n'
    (read,) = read_bytes(text.encode(), "a.csv")
    record = replace(read, asset=replace(read.asset, name=name, site=name, section=name))
    memory = opened(new_made())
    take_in(memory, [Incoming(name, text.encode(), (record,))], default_rules())
    export(memory, tmp_path / "out")
    listed = json.loads((tmp_path / "out" / "export.json").read_text(encoding="utf-8"))
    for file in listed["files"]:
        place = (tmp_path / "out" / file["path"]).resolve()
        assert place.is_relative_to((tmp_path / "out").resolve())
        assert place.is_file()
    other = opened(new_made())
    back(other, tmp_path / "out")
    assert held(other)["test"] == held(memory)["test"]


NAMES = st.none() | st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=40).filter(
    lambda text: text.strip() == text
)


@st.composite
def any_records(draw: st.DrawFn) -> Record:
    """A record of any names, texts and figures."""
    count = draw(st.integers(1, 5))
    resistance = np.array(draw(st.lists(st.floats(1e2, 1e14), min_size=count, max_size=count)), np.float64)
    bound = np.array(draw(st.lists(st.sampled_from((0, 1, -1)), min_size=count, max_size=count)), np.int8)
    time, voltage = (
        np.arange(1.0, count + 1.0) * draw(st.floats(0.1, 600.0)),
        np.full(count, draw(st.floats(10, 1e5))),
    )
    rows = Readings(
        time, voltage, voltage / resistance, resistance, bound, current_derived=True, resistance_given=True
    )
    parts: dict[str, Any] = {
        name: draw(NAMES) for name in ("name", "site", "tag", "serial", "section", "insulation")
    }
    conditions = Conditions(
        winding_temperature=draw(st.none() | st.floats(250, 420)), surface=draw(st.none() | st.just("wet"))
    )
    stated = Stated(
        draw(st.sampled_from(("insulation-resistance", "polarization-index"))),
        test_voltage=float(voltage[0]),
        started=draw(st.none() | st.dates(date(1950, 1, 1), date(2100, 1, 1))),
    )
    return Record(
        Asset(asset_class=draw(st.sampled_from(("cable", "rotating-machine", "transformer"))), **parts),
        stated,
        rows,
        conditions,
        Instrument(serial=draw(NAMES)),
        Paper(notes=draw(NAMES), visit=draw(NAMES)),
        extra=draw(
            st.dictionaries(st.from_regex("x_[a-z]{1,6}", fullmatch=True), st.text(max_size=20), max_size=2)
        ),
    )


@settings(max_examples=15, deadline=None)
@given(st.lists(any_records(), min_size=1, max_size=3))
def test_any_record_comes_back(given_records: list[Record]) -> None:
    with TemporaryDirectory() as name:
        folder = Path(name)
        memory, other = opened(str(folder / "a.sqlite")), opened(str(folder / "b.sqlite"))
        incoming = [Incoming(f"{n}.csv", b"bytes", (record,)) for n, record in enumerate(given_records)]
        taken = take_in(memory, incoming, default_rules())
        counts = export(memory, folder / "out")
        assert counts["tests"] == taken.tests_added
        back(other, folder / "out")
        assert held(other) == held(memory)
        for one in (memory, other):
            one.store.close()
