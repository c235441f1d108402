"""Under which id a record comes in, and which asset or test is meant: against a small register in memory; pure."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.app.intake_ids import LENGTH
from soakage.app.intake_ids import TestIds as Ids
from soakage.app.lookup import asset_or_test, find_assets, the_asset, the_test
from soakage.app.ports import KnownAsset, KnownTest, Memory
from soakage.app.register import IDENTITY, asset_id, identity
from soakage.errors import UsageError
from soakage.importers.reading import read_bytes
from soakage.model.record import Record

TEXT = (
    '# soakage = 1\n# class = "apparatus"\n# asset = "Pump 3"\n# method = "insulation-resistance"\n'
    "resistance [MOhm]\n5\n"
)
CONTENTS = st.text("0123456789abcdef", min_size=64, max_size=64)


def a_record() -> Record:
    (made,) = read_bytes(TEXT.encode(), "x.csv")
    return made


def a_test(name: str) -> KnownTest:
    return KnownTest(
        name,
        name * 2,
        a_record(),
        None,
        None,
        None,
        "",
        withdrawn=False,
        review="draft",
        status=None,
        result=None,
    )


class Register:
    """Just what looking up needs."""

    def __init__(
        self,
        assets: Iterable[KnownAsset] = (),
        tests: Iterable[str] = (),
        purged: dict[str, str] | None = None,
    ) -> None:
        self.all, self.names, self.gone = list(assets), list(tests), dict(purged or {})

    def assets_like(self, *wanted: Iterable[str]) -> list[KnownAsset]:
        parts = dict(zip(("asset", "tag", "serial"), map(set, wanted), strict=True))
        return [a for a in self.all if any(a.values.get(key) in names for key, names in parts.items())]

    def assets(self, ids: Iterable[str]) -> dict[str, KnownAsset]:
        wanted = set(ids)
        return {a.id: a for a in self.all if a.id in wanted}

    def tests_beginning(self, start: str) -> list[KnownTest]:
        return [a_test(name) for name in self.names if name.startswith(start)][:5]

    def purged(self, tests: Iterable[str]) -> dict[str, str]:
        return {name: self.gone[name] for name in tests if name in self.gone}


def memory(*arguments: Any, **named: Any) -> Memory:
    return cast("Memory", Register(*arguments, **named))


def asset(name: str, **values: str) -> KnownAsset:
    return KnownAsset(identity("asset", name, *values.values()), {"asset": name, **values})


# Ids


@given(CONTENTS)
def test_an_id_is_the_beginning_of_the_content(content: str) -> None:
    ids = Ids(memory(), [content], again=False)
    assert ids.of(content) == content[:LENGTH]
    assert ids.refusal(a_record(), content) is None


@given(CONTENTS, st.integers(1, 4))
def test_each_purge_gives_another_id_and_the_same_one_everywhere(content: str, times: int) -> None:
    gone: dict[str, str] = {}
    seen = []
    for number in range(times):
        name = Ids(memory(purged=gone), [content], again=True).of(content)
        assert name not in seen
        seen.append(name)
        gone[name] = f"{number:064x}"
    last = Ids(memory(purged=gone), [content], again=True)
    assert last.of(content) not in seen
    assert last.of(content) == Ids(memory(purged=dict(gone)), [content], again=True).of(content)
    assert len(last.of(content)) == LENGTH


def test_what_was_purged_is_refused_unless_it_is_meant() -> None:
    content = "ab" * 32
    gone = {content[:LENGTH]: "0" * 64}
    fault = Ids(memory(purged=gone), [content], again=False).refusal(a_record(), content)
    assert fault is not None
    assert "was purged" in str(fault)
    assert "--again" in fault.remedy
    assert fault.file == "x.csv"
    assert Ids(memory(purged=gone), [content], again=True).refusal(a_record(), content) is None
    assert Ids(memory(purged=gone), ["cd" * 32], again=False).refusal(a_record(), "cd" * 32) is None


def test_an_asset_keeps_the_id_of_its_first_names() -> None:
    names = {"site": "Works", "asset": "Pump 3"}
    assert asset_id(names) == identity("asset", *(names.get(key) for key in IDENTITY))
    assert asset_id(names) != asset_id({"asset": "Pump 3"})
    assert asset_id({"tag": "Pump 3"}) != asset_id({"asset": "Pump 3"}), "a tag is no name"


# Looking up


PUMPS = (
    asset("Pump 3", site="Works"),
    asset("Pump 3", site="Mill"),
    asset("Pump 33", tag="P-33", serial="0815"),
)


@pytest.mark.parametrize(
    ("typed", "site", "count"),
    (
        ("Pump 3", None, 2), ("Pump 3", "Mill", 1), ("  Pump   3 ", None, 2), ("Pump", None, 0), ("pump 3", None, 0),
        ("P-33", None, 1), ("0815", None, 1), (PUMPS[2].id, None, 1), (PUMPS[2].id[:12], None, 0), ("", None, 0),
        ("Pump 33", "Mill", 0),
    ),
)  # fmt: skip
def test_names_are_matched_whole(typed: str, site: str | None, count: int) -> None:
    assert len(find_assets(memory(PUMPS), typed, site)) == count


def test_of_several_the_ids_are_told() -> None:
    with pytest.raises(UsageError, match="may be 2 assets") as told:
        the_asset(memory(PUMPS), "Pump 3")
    assert all(pump.id in str(told.value) for pump in PUMPS[:2])
    assert the_asset(memory(PUMPS), "Pump 3", "Works").id == PUMPS[0].id
    with pytest.raises(UsageError, match="No asset is called 'Pump' at Mill"):
        the_asset(memory(PUMPS), "Pump", "Mill")


FIRST, SECOND = "0123456789abcdef" * 2, "0123456789abcdff" * 2


@pytest.mark.parametrize(
    ("typed", "said"),
    (
        ("0123456", "at least its first 8"), ("not an id", "no id of a test"), ("0123456789abcd", "2 tests begin"),
        ("ffffffff", "No test begins"), (FIRST + "0", "no id of a test"), ("", "no id of a test"),
    ),
)  # fmt: skip
def test_what_names_no_test(typed: str, said: str) -> None:
    with pytest.raises(UsageError, match=said):
        the_test(memory((), (FIRST, SECOND)), typed)


@pytest.mark.parametrize("typed", (FIRST, FIRST[:16], FIRST[:15], FIRST[:16].upper(), f" {FIRST} "))
def test_the_beginning_of_an_id_is_enough(typed: str) -> None:
    assert the_test(memory((), (FIRST, SECOND)), typed).id == FIRST


def test_an_asset_comes_before_a_test_of_the_same_letters() -> None:
    named = KnownAsset("a" * 32, {"asset": FIRST[:12]})
    both = memory([named], (FIRST,))
    assert asset_or_test(both, FIRST[:12]) is named
    found = asset_or_test(both, FIRST[:13])
    assert isinstance(found, KnownTest)
    with pytest.raises(UsageError, match="No asset is called"):
        asset_or_test(both, "Pump 9")
