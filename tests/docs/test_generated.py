"""The pages that are made from the house: complete, the same every time, quick, and saying nothing that kills."""

from __future__ import annotations

import json
import re
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from docblocks import DOCS, ROOT
from soakage.app.evaluate import evaluate
from soakage.app.explain import known_ids
from soakage.demo.make import demo_files
from soakage.importers.reading import read_bytes
from soakage.methods import methods
from soakage.methods import words as words_of
from soakage.model.keys import KEYS
from soakage.physics.formula import catalogue
from soakage.quantities import GLOSSARY
from soakage.standards.causes import Cause, causes
from soakage.standards.criterion import VERIFIED_TEXT, Criterion, Verified
from soakage.standards.library import library
from soakage.standards.profile import profile
from soakage.units import format_quantity

sys.path.insert(0, str(DOCS))

import generate
from made import checked, disagreements, text, words

PAGES = generate.pages()
WHOLE = "\n".join(PAGES.values())
STATEMENTS = re.compile(
    r"\b(?:is|are|now) safe\b|\bsafe to\b|\bmay be energi[sz]ed\b|\b(?:is|are|now|fully) discharged\b",
    re.IGNORECASE,
)
LIBRARY = library()


def page_of(criterion: Criterion) -> str:
    return PAGES[f"standards/{criterion.standard.id}.md"]


def part_of(criterion: Criterion) -> str:
    """Return what stands under one criterion."""
    begins = page_of(criterion).index(f"({criterion.id})=")
    rest = page_of(criterion)[begins:]
    return rest.split("\n(", 1)[0]


def test_the_same_every_time() -> None:
    assert generate.pages() == PAGES


def test_made_in_seconds() -> None:
    began = time.perf_counter()
    generate.pages()
    assert time.perf_counter() - began < 5


def test_writes_only_what_changed_and_takes_away_what_is_gone(tmp_path: Path) -> None:
    first = generate.write(tmp_path)
    assert {path.relative_to(tmp_path).as_posix() for path in first} == set(PAGES)
    (tmp_path / "standards" / "gone.md").write_text("old")
    (tmp_path / "keys.md").write_text("changed by hand")
    again = {path.relative_to(tmp_path).as_posix() for path in generate.write(tmp_path)}
    assert again == {"standards/gone.md", "keys.md"}
    assert not (tmp_path / "standards" / "gone.md").exists()
    assert generate.write(tmp_path) == []


@pytest.mark.parametrize("name", known_ids(LIBRARY))
def test_everything_with_an_id_stands_on_a_page(name: str) -> None:
    assert f"`{name}`" in WHOLE


@pytest.mark.parametrize("name", methods())
def test_each_method_has_its_page_with_cautions_first(name: str) -> None:
    page, method = PAGES[f"methods/{name}.md"], methods()[name]
    cautions, steps = page.index("## Cautions"), page.index("## How it is done")
    assert cautions < steps
    assert "Local codes and" in page[cautions:steps]
    assert "earth" in page[cautions:steps]
    assert all(text.plain(step) in page[steps:] for step in method.procedure)
    assert all(f"`{quantity}`" in page for quantity in method.quantities)
    assert f"[{text.plain(method.title)}]({name}.md)" in PAGES["methods/index.md"]


@pytest.mark.parametrize("name", ("step-voltage", "ramp"))
def test_an_overvoltage_method_says_its_conditions(name: str) -> None:
    assert "consent" in PAGES[f"methods/{name}.md"]


def test_each_standard_has_its_page() -> None:
    assert {name for name in PAGES if name.startswith("standards/")} == {
        "standards/index.md", *(f"standards/{name}.md" for name in LIBRARY.standards)
    }  # fmt: skip


@pytest.mark.parametrize("criterion", LIBRARY.criteria.values(), ids=LIBRARY.criteria)
def test_each_criterion_says_rule_source_and_how_it_is_known(criterion: Criterion) -> None:
    part = part_of(criterion)
    assert text.plain(criterion.rationale) in part
    assert text.plain(criterion.breach_means) in part
    assert text.plain(criterion.clause) in part
    assert VERIFIED_TEXT[criterion.verified] in part
    assert text.plain(criterion.reported_by) in part
    assert all(text.plain(waiver.reason) in part for waiver in criterion.waivers)
    assert [part.count(f"| *{status}* |") for status in {e.status for e in criterion.examples}] == [
        sum(e.status is status for e in criterion.examples)
        for status in {e.status for e in criterion.examples}
    ]


def test_a_page_shows_the_limit_of_its_standard() -> None:
    # IEEE Std 43-2013, cl. 12.3 (secondary): form-wound windings from about 1970, 100 MOhm at 40 degC
    part = part_of(LIBRARY.criteria["ieee-43-2013.minimum-resistance.form-wound"])
    assert text.plain(format_quantity(100e6, "resistance")) in part
    assert "year from 1970" in part
    # IEC 60364-6:2016 Table 6.1 (secondary): SELV and PELV have a row of their own
    part = part_of(LIBRARY.criteria["iec-60364-6-2016.minimum-resistance.above-500-v"])
    assert "section other than selv or pelv" in part
    assert "above 500" in part


def test_a_limit_from_memory_never_looks_read() -> None:
    for criterion in LIBRARY.criteria.values():
        if criterion.verified is not Verified.READ:
            assert "Read in the source itself" not in part_of(criterion), criterion.id


def test_withstand_tables_carry_their_caution() -> None:
    for reference in LIBRARY.references.values():
        assert text.plain(reference.caution) in PAGES[f"standards/{reference.standard.id}.md"]


@pytest.mark.parametrize("name", KEYS)
def test_each_key_is_listed_with_its_words(name: str) -> None:
    row = next(line for line in PAGES["keys.md"].splitlines() if line.startswith(f"| `{name}` |"))
    assert text.plain(KEYS[name].meaning) in row
    assert all(f"`{word}`" in row for word in words_of(KEYS[name]))


@pytest.mark.parametrize("name", GLOSSARY)
def test_each_quantity_is_defined(name: str) -> None:
    page = PAGES["quantities.md"]
    part = page[page.index(f"(quantity-{name})=") :].split("\n(quantity-", 1)[0]
    assert text.plain(GLOSSARY[name].definition) in part
    assert text.plain(GLOSSARY[name].source) in part


@pytest.mark.parametrize("name", catalogue())
def test_each_formula_has_its_inputs_and_example(name: str) -> None:
    formula, page = catalogue()[name], PAGES["formulas.md"]
    part = page[page.index(f"(formula-{name})=") :].split("\n(formula-", 1)[0]
    assert all(f"| `{entry.name}` |" in part for entry in formula.inputs)
    assert f"gives {formula.example.expected:g}" in part
    assert text.plain(formula.example.source) in part


@pytest.mark.parametrize("cause", causes(), ids=lambda cause: cause.id)
def test_each_cause_shows_its_signs_and_what_would_confirm_it(cause: Cause) -> None:
    page = PAGES["causes.md"]
    part = page[page.index(f"(cause-{cause.id})=") :].split("\n(cause-", 1)[0]
    assert text.plain(cause.confirm_by) in part
    assert part.count(" |\n") == len(cause.evidence) + 2
    assert f"](methods/{cause.next_test}.md)" in part
    assert cause.next_test in methods()


def codes(page: str) -> dict[str, str]:
    return {row[1]: row[0] for row in re.findall(r"^(\| `(\w+)` \|.*)$", page, re.MULTILINE)}


def test_every_finding_the_demo_makes_is_listed_with_its_status() -> None:
    listed = codes(PAGES["findings.md"])
    records = [r for name, content in demo_files().items() for r in read_bytes(content.encode(), name)]
    made = {finding.code: finding for e in evaluate(records).records for finding in e.findings}
    assert len(made) >= 8
    assert set(made) - set(listed) == set()
    for code, finding in made.items():
        assert f"*{finding.status}*" in listed[code] or finding.status is None, code


def test_every_code_in_the_source_is_listed_and_says_something() -> None:
    # counted another way than the page is made: every code that a finding is called with as a constant
    source = "".join(
        path.read_text(encoding="utf-8")
        for room in ("app", "importers")
        for path in (ROOT / "src" / "soakage" / room).glob("*.py")
    )
    called = set(re.findall(r"(?:Finding|\.finding)\(\s*\"(\w+)\"", source))
    ended = {"broke_down", "flashed_over", "tripped", "stopped", "over_range", "under_range"}
    listed = codes(PAGES["findings.md"])
    assert len(called) > 30
    assert set(listed) == called | ended
    assert [code for code, row in listed.items() if not re.search(r"[a-z]{3,} [a-z]", row)] == []
    assert "*unfit*" in listed["broke_down"]
    assert "*unfit*" in listed["flashed_over"]


def test_the_default_rule_set_gives_every_reason() -> None:
    shown, page = profile(), PAGES["profile.md"]
    reasons = [use.reason for use in shown.uses] + [use.reason for use in shown.temperatures]
    assert [reason for reason in reasons if text.plain(reason) not in page] == []
    assert all(f"](#{name})" in page for use in shown.uses for name in use.criteria)
    assert all(f"](#{name})" in page for use in shown.voltages for name in (*use.tables, *use.overvoltage))


def test_every_reference_case_is_listed() -> None:
    cases = [
        case
        for file in (ROOT / "tests" / "references").glob("*.toml")
        for case in tomllib.loads(file.read_text(encoding="utf-8"))["case"]
    ]
    assert f"{len(cases)} cases" in PAGES["cases.md"]
    assert PAGES["cases.md"].count("\n| `") == len(cases)
    assert [case["source"] for case in cases if text.plain(case["source"]) not in PAGES["cases.md"]] == []


@pytest.mark.parametrize("program", [row[0] for row in checked.LIBRARIES])
def test_each_outside_program_is_used_by_a_test(program: str) -> None:
    used = re.compile(rf"^\s*(?:import|from) {program}\b|which\(\"{program}\"\)", re.MULTILINE)
    tests = (path for path in (ROOT / "tests").rglob("*.py") if path.is_relative_to(ROOT / "tests"))
    assert any(used.search(path.read_text(encoding="utf-8")) for path in tests)


def test_disagreements_name_rules_that_are_there_and_mark_the_defaults() -> None:
    named = [name for _, _, names in disagreements.DISAGREEMENTS for name in names]
    assert set(named) <= set(known_ids(LIBRARY))
    rows = [line for line in PAGES["parts/disagreements.txt"].splitlines() if line.startswith("| [")]
    assert len(rows) == len(named)
    marked = {
        match[1] for row in rows if row.endswith("| yes |") and (match := re.search(r"#([^)]+)\)", row))
    }
    assert {"neta-100-14-1.oil", "iec-60364-6-2016.minimum-resistance.to-500-v"} <= marked
    assert not {"neta-100-14-2.oil", "iec-60364-before-2006.minimum-resistance.to-500-v"} & marked


@pytest.mark.parametrize("name", checked.SCHEMAS)
def test_schemas_are_published_whole(name: str) -> None:
    schema = json.loads(PAGES[f"{name}.schema.json"])
    Draft202012Validator.check_schema(schema)
    assert schema == json.loads(json.dumps(checked.SCHEMAS[name]()))


@pytest.mark.parametrize(
    ("found", "expected"),
    (
        (None, "No run is kept"),
        ({"judge": {"records": 1000, "seconds": 1.23456}, "list": [1, 2]}, "| judge seconds | 1.235 |"),
    ),
)
def test_benchmarks_are_shown_where_there_are_any(tmp_path: Path, found: object, expected: str) -> None:
    if found is not None:
        (tmp_path / "2026-11-25.json").write_text(json.dumps(found))
        (tmp_path / "validate-x.json").write_text(json.dumps({"not": "a time"}))
    shown = checked.benchmarks(tmp_path)
    assert expected in shown
    assert "a time" not in shown


def test_the_confusion_of_causes_is_shown_as_it_was_measured(tmp_path: Path) -> None:
    kept = {"each": 5, "share": 0.9, "table": {"x": {"x": 4, "none": 1}, "y": {"y": 5}}}
    (tmp_path / "validate-causes.json").write_text(json.dumps(kept))
    shown = checked.confusion(tmp_path)
    assert "90%" in shown.replace("\u00a0", "")
    assert "of 5" in shown
    assert "x 4, none 1" in shown


def test_nothing_is_said_that_no_reading_can_know() -> None:
    # contributing.md names the words that are never said
    hand_written = [
        path
        for path in DOCS.rglob("*.md")
        if not {"_generated", "_build"} & set(path.parts) and path.name != "contributing.md"
    ]
    assert len(hand_written) >= 14
    written = "\n".join(path.read_text(encoding="utf-8") for path in hand_written)
    assert STATEMENTS.findall(WHOLE + written) == []


@pytest.mark.parametrize(
    ("function", "given", "expected"),
    (
        (text.plain, "a_b | <1 *c* [d] $e$", r"a\_b \| \<1 \*c\* \[d\] \$e\$"),
        (text.plain, "two\nlines", "two lines"),
        (text.code, "R = V / I", "`R = V / I`"),
        (text.code, "a|b", "`a\\|b`"),
        (text.code, "a `b` c", "``a `b` c``"),
        (text.code, "", ""),
        (text.proof, "read", "`read`: Read in the source itself."),
        (text.proof, "memory", "`memory`: From memory, check against your copy."),
    ),
)
def test_text_is_never_taken_for_markup(function: Callable[[str], str], given: str, expected: str) -> None:
    assert function(given) == expected


def test_tables_keep_their_columns() -> None:
    lines = text.table(("a", "b"), [("1", ""), (text.plain("x|y"), "2")]).splitlines()
    assert [len(re.findall(r"(?<!\\)\|", line)) for line in lines if line] == [3, 3, 3, 3]


def test_facts_leave_out_what_is_not_known() -> None:
    assert text.facts([("a", "1"), ("b", "")]) == "- **a**: 1\n\n"


def test_an_open_figure_in_a_sentence_is_an_ellipsis() -> None:
    assert "At \N{HORIZONTAL ELLIPSIS} the insulation was" in words.findings_page()
