"""Reading criteria files: what is refused, and that a refusal names file, entry and remedy."""

from __future__ import annotations

import hashlib
from importlib.resources import files

import pytest

from soakage.errors import StandardDataError
from soakage.model.verdict import Status
from soakage.standards.criterion import Condition, Kind, Verified
from soakage.standards.library import library, read_library

HEAD = """
[standard]
id = "invented"
name = "Invented standard"
edition = "1"
title = "A standard of this test"
"""
CRITERION = """
[[criterion]]
id = "invented.minimum"
name = "Minimum"
quantity = "insulation_resistance_60s"
kind = "constant"
sense = "lower"
limit = "100 MOhm"
verified = "read"
rationale = "Because."
breach = "unfit"
breach_means = "Dry it."
examples = [{ value = "100 MOhm", status = "sound" }, { value = "99 MOhm", status = "unfit" }]
"""
RULE = """
[[temperature_rule]]
id = "invented.rule"
name = "Rule"
verified = "read"
rationale = "Because."
pieces = [{ form = "halving", interval = "10 K" }]
examples = [{ temperature = "20 degC", base = "40 degC", factor = 0.25 }]
"""
VOLTAGES = """
[[voltage_table]]
id = "invented.voltage"
name = "Voltages"
verified = "read"
rationale = "Because."
of = "rated_voltage"
role = "insulation-resistance"
rows = [{ below = "1 kV", low = "500 V", high = "500 V" }]
examples = [{ given = "400 V", low = "500 V", high = "500 V" }]
"""
REFERENCE = """
[[reference]]
id = "invented.reference"
name = "Table"
verified = "read"
rationale = "Because."
columns = ["a", "b"]
rows = [["1", "2"]]
"""


def read(*texts: str, name: str = "invented.toml") -> object:
    return read_library([(name, "".join(texts).encode())])


def refusal(*texts: str) -> str:
    with pytest.raises(StandardDataError) as raised:
        read(*texts)
    return str(raised.value)


def test_a_right_file_is_read() -> None:
    found = read_library([("invented.toml", (HEAD + CRITERION + RULE + VOLTAGES + REFERENCE).encode())])
    criterion = found.criteria["invented.minimum"]
    assert criterion.kind is Kind.CONSTANT
    assert criterion.limit == 1e8
    assert criterion.breach is Status.UNFIT
    assert criterion.verified is Verified.READ
    assert criterion.group == "invented.minimum"
    assert [example.status for example in criterion.examples] == [Status.SOUND, Status.UNFIT]
    assert found.members("invented.minimum") == (criterion,)
    assert found.temperature_rules["invented.rule"].pieces[0].interval == 10.0
    assert found.voltage_tables["invented.voltage"].rows[0].below == 1000.0
    assert found.references["invented.reference"].rows == (("1", "2"),)


def test_a_standard_carries_the_hash_of_its_file() -> None:
    content = (HEAD + CRITERION).encode()
    found = read_library([("invented.toml", content)])
    assert found.standards["invented"].sha256 == hashlib.sha256(content).hexdigest()
    assert found.standards["invented"].file == "invented.toml"


def test_the_digest_follows_every_byte() -> None:
    one = read_library([("invented.toml", (HEAD + CRITERION).encode())])
    other = read_library([("invented.toml", (HEAD + CRITERION + "\n# a remark").encode())])
    assert one.digest != other.digest


@pytest.mark.parametrize(
    ("instead_of", "put", "said"),
    (
        ('kind = "constant"', 'kind = "sometimes"', "kind is 'sometimes'; allowed: constant, linear, table"),
        ('sense = "lower"', 'sense = "sideways"', "allowed: lower, upper"),
        ('limit = "100 MOhm"', "", "lacks what its kind needs; give "),
        ('limit = "100 MOhm"', "limit = 100", "needs a unit of resistance"),
        ('limit = "100 MOhm"', 'limit = "100 kV"', "measures voltage, not resistance"),
        ('limit = "100 MOhm"', 'limit = "100 MOhm"\nlimmit = 3', "unknown keys \\['limmit'\\]; known: "),
        (
            'verified = "read"',
            'verified = "hearsay"',
            "verified is 'hearsay'; allowed: read, secondary, memory",
        ),
        ('verified = "read"', 'verified = "secondary"', "names who reports it \\(reported_by\\)"),
        ('verified = "read"', "", "verified is missing"),
        ('rationale = "Because."', "", "rationale is missing"),
        ('breach = "unfit"', 'breach = "awful"', "breach is 'awful'; allowed: sound, watch"),
        ('breach_means = "Dry it."', "", "breach_means is missing"),
        (
            'quantity = "insulation_resistance_60s"',
            'quantity = "goodness"',
            "No quantity is called 'goodness'",
        ),
        (
            'kind = "constant"',
            'kind = "constant"\napplies = { class = "cable" }',
            "a list of words or a range",
        ),
        (
            'kind = "constant"',
            'kind = "constant"\napplies = { rated_voltage = { over = "1 kV" } }',
            "unknown keys \\['over'\\]",
        ),
        (
            'kind = "constant"',
            'kind = "band"\nedges = ["1 MOhm"]\nstatuses = ["sound"]',
            "lacks what its kind",
        ),
        (
            'kind = "constant"',
            'kind = "band"\nedges = ["1 MOhm"]\nstatuses = ["watch", "sound"]\nat_edge = ["upper", "lower"]',
            "a side \\(lower or upper\\) for each edge",
        ),
        ('kind = "constant"', 'kind = "linear"', "lacks what its kind needs; give "),
        ('kind = "constant"', 'kind = "table"\nof = "rated_voltage"', "lacks what its kind needs; give "),
        ('kind = "constant"', 'kind = "formula"', "lacks what its kind needs; give "),
    ),
)
def test_a_broken_criterion_is_refused_by_file_and_entry(instead_of: str, put: str, said: str) -> None:
    assert instead_of in CRITERION
    with pytest.raises(StandardDataError, match=said) as raised:
        read(HEAD, CRITERION.replace(instead_of, put))
    assert str(raised.value).startswith("invented.toml: [[criterion]] invented.minimum: ")


def test_a_criterion_without_examples_is_refused() -> None:
    without = CRITERION[: CRITERION.index("examples")]
    assert "examples on the limit and just off it are needed" in refusal(HEAD, without)
    assert "invented.minimum" in refusal(HEAD, without)


def test_a_reference_kind_needs_its_record_and_its_share() -> None:
    wrong = CRITERION.replace('kind = "constant"', 'kind = "reference"\nreference = "sister"')
    wrong = wrong.replace('limit = "100 MOhm"', "limit = 0.7")
    assert "a reference criterion lacks what its kind needs" in refusal(HEAD, wrong)


@pytest.mark.parametrize("second", (CRITERION, RULE.replace("invented.rule", "invented.minimum")))
def test_an_id_stands_once(second: str) -> None:
    said = refusal(HEAD, CRITERION, second)
    assert "'invented.minimum' stands in invented.toml already; ids are unique" in said


def test_an_id_stands_once_across_files() -> None:
    other = HEAD.replace('"invented"', '"other"')
    with pytest.raises(StandardDataError, match=r"b\.toml: id 'invented\.minimum' stands in a\.toml already"):
        read_library([("a.toml", (HEAD + CRITERION).encode()), ("b.toml", (other + CRITERION).encode())])


@pytest.mark.parametrize(
    ("entry", "instead_of", "put", "said"),
    (
        (RULE, 'interval = "10 K"', 'interval = "10 K", slope = 2', "unknown keys \\['slope'\\]"),
        (
            RULE,
            'form = "halving"',
            'form = "table", temperatures = [1, 2], factors = [1]',
            "differ in number",
        ),
        (
            VOLTAGES,
            "insulation-resistance",
            "guess",
            "allowed: insulation-resistance, overvoltage, withstand",
        ),
        (VOLTAGES, 'low = "500 V"', "low = 500", "needs a unit of voltage"),
        (REFERENCE, '["1", "2"]', '["1"]', "one cell per column"),
    ),
)
def test_other_broken_entries_are_refused(entry: str, instead_of: str, put: str, said: str) -> None:
    assert instead_of in entry
    with pytest.raises(StandardDataError, match=said) as raised:
        read(HEAD, entry.replace(instead_of, put))
    assert "invented.toml: [[" in str(raised.value)


def test_an_edition_stands_in_one_file() -> None:
    with pytest.raises(StandardDataError, match=r"b\.toml: standard 'invented' stands in a\.toml already"):
        read_library([("a.toml", HEAD.encode()), ("b.toml", HEAD.encode())])


def test_a_group_stands_once() -> None:
    group = '[[group]]\nid = "invented.group"\nname = "G"\nquantity = "phase_spread"\n'
    assert "'invented.group' stands in" in refusal(HEAD, group, group)


def test_a_file_that_is_no_toml_is_named() -> None:
    assert "invented.toml: not a readable TOML file" in refusal("[standard")
    with pytest.raises(StandardDataError, match=r"bytes\.toml: not a readable TOML file"):
        read_library([("bytes.toml", b"\xff\xfe\x00")])


def test_a_file_without_its_standard_is_refused() -> None:
    assert "a [standard] table with id, name, edition and title is needed" in refusal(CRITERION)
    assert "a [standard] table" in refusal(HEAD.replace('edition = "1"\n', ""), CRITERION)


def test_an_unknown_table_is_refused() -> None:
    said = refusal(HEAD, '[[criteria]]\nid = "x"\n')
    assert "unknown tables ['criteria']" in said
    assert "criterion" in said


def test_an_unknown_group_is_refused() -> None:
    with pytest.raises(StandardDataError, match="No criterion or group is called 'nothing'"):
        library().members("nothing")


def test_a_voltage_may_follow_a_factor_with_offset_and_cap() -> None:
    rows = 'rows = [{ below = "1 kV", low = "500 V", high = "500 V" }]'
    factors = 'factor_low = "4 kV"\nfactor_high = "4 kV"\nper = "1 mm"\ncap = "10 kV"\noffset = "1 kV"'
    thick = (
        VOLTAGES.replace(rows, factors).replace("rated_voltage", "sheath_thickness").replace("400 V", "2 mm")
    )
    table = read_library([("invented.toml", (HEAD + thick).encode())]).voltage_tables["invented.voltage"]
    assert table.factor_low == pytest.approx(4e6)
    assert table.cap == 10_000.0
    assert table.offset == 1000.0
    bare = VOLTAGES.replace(rows, "factor_low = 2.125\nfactor_high = 2.55")
    table = read_library([("invented.toml", (HEAD + bare).encode())]).voltage_tables["invented.voltage"]
    assert (table.factor_low, table.factor_high) == (2.125, 2.55)


# Conditions


@pytest.mark.parametrize(
    ("condition", "value", "holds"),
    (
        (Condition("class", words=("cable",)), "cable", True),
        (Condition("class", words=("cable",)), "transformer", False),
        (Condition("class", words=("cable",)), None, None),
        (Condition("insulation", words=("pvc 60",)), "PVC-60", True),
        (Condition("filling", other_than=("oil", "ester")), "dry", True),
        (Condition("filling", other_than=("oil", "ester")), "oil", False),
        (Condition("filling", other_than=("oil", "ester")), None, None),
        (Condition("section", words=("core",)), None, False),
        (Condition("section", other_than=("core",)), None, True),
        (Condition("section", other_than=("control wiring",)), "Control-wiring", False),
        (Condition("year", below=1970), 1969, True),
        (Condition("year", below=1970), 1970, False),
        (Condition("year", start=1970), 1970, True),
        (Condition("rated_voltage", to=500.0), 500.0, True),
        (Condition("rated_voltage", to=500.0), 500.1, False),
        (Condition("rated_voltage", above=500.0), 500.0, False),
        (Condition("rated_voltage", above=500.0), 500.1, True),
        (Condition("rated_voltage", start=1.0, to=2.0), None, None),
        (Condition("rated_power", stated=False), None, True),
        (Condition("rated_power", stated=False), 1e3, False),
        (Condition("attached", stated=True), ("cable",), True),
    ),
)
def test_a_condition_is_true_false_or_open(
    condition: Condition, value: object, *, holds: bool | None
) -> None:
    assert condition.holds(value) is holds


# The library that comes with Soakage


def test_the_library_loads_every_file_of_its_folder() -> None:
    folder = files("soakage.standards") / "data"
    names = {item.name for item in folder.iterdir() if item.name.endswith(".toml")}
    assert {standard.file for standard in library().standards.values()} == names
    assert len(names) > 30


def test_each_file_is_one_standard_named_after_its_id() -> None:
    for standard in library().standards.values():
        assert standard.file == f"{standard.id}.toml"


def test_ids_are_unique_over_all_shelves() -> None:
    found = library()
    shelves = (
        found.criteria,
        found.temperature_rules,
        found.voltage_tables,
        found.thresholds,
        found.references,
    )
    ids = [entry for shelf in shelves for entry in shelf]
    assert len(ids) == len(set(ids))
    assert not set(ids) & set(found.groups)


def test_every_group_a_criterion_names_is_described() -> None:
    found = library()
    grouped = {criterion.group for criterion in found.criteria.values() if criterion.group != criterion.id}
    assert grouped == set(found.groups)


def test_one_bracket_for_two_is_named() -> None:
    content = b'[standard]\nid = "x"\nname = "X"\nedition = "1"\ntitle = "t"\n[criterion]\nid = "a"\n'
    with pytest.raises(StandardDataError, match=r"x\.toml: write \[\[criterion\]\]"):
        read_library([("x.toml", content)])
