"""Pages written by hand: their examples are read and judged, and what they list is what there is."""

from __future__ import annotations

import math
import os
import re
import subprocess
import sys
import tomllib
from functools import cache
from pathlib import Path

import pytest

from docblocks import DOCS, ROOT, blocks, files, run
from soakage.app.contract_json import exit_code
from soakage.app.contract_schema import judge_schema
from soakage.app.evaluate import evaluate
from soakage.app.rules import Rules
from soakage.app.schema_parts import STATUSES
from soakage.importers.reading import read_bytes
from soakage.importers.write_record import header_values
from soakage.model.record import Record
from soakage.model.verdict import Status
from soakage.standards.criterion import VERIFIED_TEXT, Kind, Verified
from soakage.standards.judge import status_of
from soakage.standards.library import library
from soakage.standards.limits import limit_for
from soakage.standards.profile import Profile, embedded_profile, read_profile
from soakage.wiring import REPORTS

RECORDS = files("record-file.md")
PROFILE = DOCS / "examples" / "company-profile.toml"
HAND_WRITTEN = sorted(path for path in DOCS.rglob("*.md") if not {"_generated", "_build"} & set(path.parts))


def text_of(page: str) -> str:
    return (DOCS / page).read_text(encoding="utf-8")


def one(name: str) -> Record:
    (record,) = read_bytes(RECORDS[name].encode(), name)
    return record


def company() -> Profile:
    return read_profile(PROFILE.name, PROFILE.read_bytes(), library(), embedded_profile)


# The record file


@pytest.mark.parametrize("name", RECORDS)
def test_each_file_shown_is_read(name: str) -> None:
    records = read_bytes(RECORDS[name].encode(), name)
    assert [f.code for r in records for f in r.findings if f.code in ("unknown_key", "unknown_column")] == []


def test_the_first_file_gives_the_index_a_hand_gives() -> None:
    # 5003 V over 3.08 uA over 5003 V over 11.5 uA (derived)
    (judged,) = evaluate([one("pump-3.csv")]).records
    assert judged.quantities["polarization_index"].value == pytest.approx(11.5 / 3.08, rel=1e-9)


def test_what_a_spreadsheet_saved_is_the_same_record() -> None:
    typed = (
        '# soakage = 1\n# class = "cable"\n# rated_voltage = "12 kV"\n# length = "840 m"\n# section = "core L1"\n'
        '# method = "cable-core"\n# test_voltage = "2500 V"\n# insulation_temperature = "14 degC"\n'
        "time [s],voltage [V],resistance [GOhm]\n60,2500,12.03\n"
    )
    (expected,) = read_bytes(typed.encode(), "typed.csv")
    assert header_values(one("saved.csv")) == header_values(expected)
    assert one("saved.csv").readings.resistance.tolist() == expected.readings.resistance.tolist() == [12.03e9]


def test_the_steps_are_steps_with_equal_holds() -> None:
    (judged,) = evaluate([one("steps.csv")]).records
    assert [row.voltage for row in judged.steps] == [1000, 2000, 3000]
    assert [row.hold for row in judged.steps] == [60, 60, 60]
    first, last = 1000 / 2.10e-6, 3000 / 6.60e-6
    assert judged.quantities["voltage_dependence"].value == pytest.approx(1 - last / first, rel=1e-9)


def test_the_ramp_forms_no_resistance() -> None:
    (judged,) = evaluate([one("ramp.csv")]).records
    assert judged.measured_ramp_rate == pytest.approx(1000 / 60, rel=1e-6)
    assert [name for name in judged.quantities if name.startswith("insulation_resistance")] == []


def test_the_discharge_gives_what_its_formula_says() -> None:
    # 84 nA over 1 kV and 0.1 uF: 0.84 mA/(V F) (derived)
    (judged,) = evaluate([one("discharge.csv")]).records
    assert judged.quantities["dielectric_discharge"].value == pytest.approx(0.84e-3, rel=1e-2)


def test_each_row_of_the_schedule_is_a_record() -> None:
    judged = evaluate(read_bytes(RECORDS["panel.csv"].encode(), "panel.csv"))
    assert [e.verdict.status for e in judged.records] == [
        Status.SOUND,
        Status.SOUND,
        Status.SOUND,
        Status.UNFIT,
    ]
    assert judged.records[0].record.readings.bound.tolist() == [1]
    assert exit_code(judged) == 1


def test_the_bare_table_is_read_with_the_options_shown(tmp_path: Path) -> None:
    (shown,) = [block for block in blocks("record-file.md") if block.language == "sh"]
    (words,) = shown.commands
    (tmp_path / words[2]).write_text("time [s],resistance [GOhm]\n60,12.03\n", encoding="utf-8")
    done = run(words, tmp_path, ROOT / "src")
    assert done.returncode == 0, done.stderr
    assert "4.72" in done.stdout  # by voltage and length


def test_many_records_in_one_file_are_as_the_page_says(tmp_path: Path) -> None:
    pump, feeder = read_bytes(RECORDS["spring.json"].encode(), "spring.json")
    assert (pump.asset.name, feeder.asset.section) == ("Pump 3 motor", "core L1")
    assert feeder.readings.bound.tolist() == [1]
    (program,) = [block for block in blocks("record-file.md") if block.caption == "in a program of yours"]
    for name in ("pump-3.csv", "spring.json"):
        (tmp_path / name).write_text(RECORDS[name], encoding="utf-8")
    env = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    subprocess.run([sys.executable, "-c", program.body], cwd=tmp_path, env=env, check=True)
    data = (tmp_path / "spring.parquet").read_bytes()
    assert [r.asset.name for r in read_bytes(data, "spring.parquet")] == ["Pump 3 motor"] * 2 + ["Feeder 12"]


def test_an_ambiguous_comma_is_an_error_with_both_readings() -> None:
    from soakage.errors import InputError

    text = RECORDS["pump-3.csv"].replace('"5 kV"', '"1,500 V"')
    with pytest.raises(InputError, match=r"1\.5|1500"):
        read_bytes(text.encode(), "x.csv")


# Judging and JSON


def test_every_status_stands_on_the_page_of_judging() -> None:
    assert [status for status in STATUSES if f"| *{status}* |" not in text_of("judging.md")] == []


def test_every_key_of_the_json_stands_on_its_page() -> None:
    schema = judge_schema()
    record = schema["properties"]["records"]["items"]
    named = [*schema["properties"], *record["properties"]]
    judgement = record["properties"]["judgements"]["items"]["properties"]
    named += [key for key in judgement if key != "name"]
    assert [key for key in named if f"`{key}`" not in text_of("json.md")] == []


def test_every_kind_of_limit_stands_on_its_page() -> None:
    assert [str(kind) for kind in Kind if f"`{kind}`" not in text_of("how-to/criterion.md")] == []


def test_every_word_of_proof_stands_on_its_page_as_printed() -> None:
    page = text_of("rules-and-sources.md")
    for word in Verified:
        row = next(line for line in page.splitlines() if line.startswith(f"| `{word}` |"))
        assert VERIFIED_TEXT[word] in row


def test_every_kind_of_report_stands_in_the_tutorial() -> None:
    assert [ending for ending in REPORTS if f"`{ending}`" not in text_of("tutorial.md") and
            f"report{ending}" not in text_of("tutorial.md")] == []  # fmt: skip


# Profiles


def test_the_profile_shown_is_the_file_beside_it() -> None:
    assert "literalinclude} examples/company-profile.toml" in text_of("profiles.md")
    assert company().id == "lowland-works"


def test_the_profile_does_what_each_table_says() -> None:
    kinds = {change.kind for change in company().changes}
    assert kinds == {"left out", "overridden", "retired"}
    assert all(change.reason for change in company().changes)
    assert company().demanded == ("work_order", "winding_temperature")
    tables = set(tomllib.loads(PROFILE.read_text(encoding="utf-8")))
    listed = set(re.findall(r"^\| `\[+(\w+)\]+`", text_of("profiles.md"), re.MULTILINE))
    assert tables <= listed


def test_the_profile_page_lists_every_table_a_profile_may_hold() -> None:
    listed = set(re.findall(r"^\| `\[+(\w+)\]+`", text_of("profiles.md"), re.MULTILINE))
    head = '[profile]\nid = "x"\ntitle = "x"\n'
    for name in listed - {"profile"}:
        with pytest.raises(Exception, match="unknown tables") as caught:
            read_profile("x.toml", f"{head}[nonsense]\n[{name}]\n".encode(), library(), embedded_profile)
        assert set(re.findall(r"'(\w+)'", str(caught.value).split("known:")[1])) == listed


def judged_by_company(text: str) -> Status:
    records = read_bytes(text.encode(), "sheet-U.csv")
    return evaluate(records, Rules(company(), library())).records[0].verdict.status


def test_the_profile_judges() -> None:
    sheet = files("tutorial.md")["sheet-U.csv"]
    with_order = sheet.replace("# permit = P-114", "# permit = P-114\n# work_order = W-1")
    assert judged_by_company(sheet) is Status.NOT_JUDGED
    assert judged_by_company(with_order) is Status.SOUND
    # 2.75 uA becomes 27.5 uA: 182 MOhm read, 154 at 40 degC, below the house rule and the doubled minimum
    assert judged_by_company(with_order.replace("60,5003,2.75", "60,5003,27.5")) is Status.UNFIT
    # a breach stays a breach where a demanded key is missing
    assert judged_by_company(sheet.replace("60,5003,2.75", "60,5003,27.5")) is Status.UNFIT


def test_the_profiles_own_criterion_is_held_by_its_examples() -> None:
    (criterion,) = company().criteria.values()
    for example in criterion.examples:
        limit = limit_for(criterion, example.facts, {})
        assert not isinstance(limit, str)
        assert status_of(criterion, limit, example.value, None)[0] == example.status


# All pages


@cache
def made_pages() -> frozenset[str]:
    sys.path.insert(0, str(DOCS))
    import generate

    return frozenset(generate.pages())


@pytest.mark.parametrize("path", HAND_WRITTEN, ids=lambda path: path.relative_to(DOCS).as_posix())
def test_links_between_pages_lead_somewhere(path: Path) -> None:
    made = {f"_generated/{name}" for name in made_pages()}
    wanting = []
    for link in re.findall(r"\]\(([^)#]+\.(?:md|json|toml))", path.read_text(encoding="utf-8")):
        found = (path.parent / link).resolve()
        inside = found.relative_to(DOCS.resolve()).as_posix() if found.is_relative_to(DOCS.resolve()) else ""
        if inside not in made and not found.is_file():
            wanting.append(link)
    assert wanting == []


@pytest.mark.parametrize("page", ("tutorial.md", "cautions.md", "index.md"))
def test_a_page_of_work_warns_first(page: str) -> None:
    text = text_of(page)
    assert text.index("```{warning}") < text.index("\n## ")
    assert re.search(r"[Ll]ocal codes", text)


def test_readings_in_examples_are_finite() -> None:
    for name in RECORDS:
        for record in read_bytes(RECORDS[name].encode(), name):
            assert math.isfinite(float(record.readings.resistance[0])) or record.test.method == "ramp"


def test_the_tutorials_profile_is_said_to_be_invented() -> None:
    for page in ("tutorial.md", "how-to/criterion.md"):
        assert all("invented" in block.body for block in blocks(page) if block.language == "toml")
    assert "invented" in PROFILE.read_text(encoding="utf-8")
