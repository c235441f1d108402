"""Parts found in a folder and among add-ons; one that is wrong or there twice stops the start."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.metadata import EntryPoint
from pathlib import Path
from types import ModuleType

import pytest

from soakage import discovery
from soakage.discovery import declared
from soakage.errors import DiscoveryError

GROUP = "soakage.kites"


@dataclass(frozen=True)
class Kite:
    """A part of an invented house of kites."""

    id: str


@dataclass
class Shelf:
    """A folder of modules that the tests fill."""

    folder: Path
    name: str

    def put(self, module: str, text: str) -> None:
        (self.folder / f"{module}.py").write_text(
            f"from test_discovery import Kite\n{text}\n", encoding="utf-8"
        )

    def package(self) -> ModuleType:
        return __import__(self.name)


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Shelf]:
    name = f"kites_{abs(hash(tmp_path))}"
    folder = tmp_path / name
    folder.mkdir()
    (folder / "__init__.py").write_text("", encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setitem(sys.modules, "test_discovery", sys.modules[__name__])
    yield Shelf(folder, name)
    for loaded in [loaded for loaded in sys.modules if loaded.split(".")[0] == name]:
        del sys.modules[loaded]


class Given(EntryPoint):
    """An add-on that loads to a part made here."""

    part: object = None

    def load(self) -> object:
        return GIVEN[self.name]


GIVEN: dict[str, object] = {}


def add_ons(monkeypatch: pytest.MonkeyPatch, parts: dict[str, object]) -> None:
    GIVEN.clear()
    GIVEN.update(parts)
    points = [Given(name, f"addon:{name}", GROUP) for name in parts]

    def found(*, group: str) -> list[EntryPoint]:
        return points if group == GROUP else []  # type: ignore[return-value]

    monkeypatch.setattr(discovery, "entry_points", found)


def test_an_empty_folder_holds_nothing(shelf: Shelf) -> None:
    assert declared(shelf.package(), "KITE", Kite, GROUP) == {}


def test_files_are_found_in_the_order_of_their_names(shelf: Shelf) -> None:
    shelf.put("b", "KITE = Kite('second')")
    shelf.put("a", "KITE = Kite('first')")
    shelf.put("c", "OTHER = Kite('not declared')")
    assert list(declared(shelf.package(), "KITE", Kite, GROUP)) == ["first", "second"]


def test_a_part_of_another_kind_is_refused_with_its_place(shelf: Shelf) -> None:
    shelf.put("a", "KITE = 'a word'")
    with pytest.raises(DiscoveryError, match="is a str, a Kite is needed") as caught:
        declared(shelf.package(), "KITE", Kite, GROUP)
    assert f"{shelf.name}.a" in str(caught.value)


def test_an_id_twice_is_refused_with_both_places(shelf: Shelf) -> None:
    shelf.put("a", "KITE = Kite('one')")
    shelf.put("b", "KITE = Kite('one')")
    with pytest.raises(DiscoveryError, match="'one'") as caught:
        declared(shelf.package(), "KITE", Kite, GROUP)
    for place in (f"{shelf.name}.a", f"{shelf.name}.b", "Rename"):
        assert place in str(caught.value)


def test_a_file_that_breaks_is_not_passed_over(shelf: Shelf) -> None:
    shelf.put("a", "raise RuntimeError('broken')")
    with pytest.raises(RuntimeError, match="broken"):
        declared(shelf.package(), "KITE", Kite, GROUP)


def test_add_ons_come_behind_the_files(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf.put("z", "KITE = Kite('own')")
    add_ons(monkeypatch, {"b": Kite("later"), "a": Kite("earlier")})
    assert list(declared(shelf.package(), "KITE", Kite, GROUP)) == ["own", "earlier", "later"]
    assert list(declared(shelf.package(), "KITE", Kite, "another.group")) == ["own"]


def test_an_add_on_cannot_take_the_id_of_a_file(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf.put("a", "KITE = Kite('own')")
    add_ons(monkeypatch, {"x": Kite("own")})
    with pytest.raises(DiscoveryError, match="add-on addon:x declares 'own'"):
        declared(shelf.package(), "KITE", Kite, GROUP)


def test_an_add_on_of_another_kind_is_refused(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    add_ons(monkeypatch, {"x": 7})
    with pytest.raises(DiscoveryError, match="add-on addon:x: KITE is a int"):
        declared(shelf.package(), "KITE", Kite, GROUP)
