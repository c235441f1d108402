"""Which tests of a store are to be judged again, asset by asset, so that memory does not grow with the store."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from soakage.app.lookup import asset_or_test
from soakage.app.ports import KnownAsset, KnownTest
from soakage.errors import UsageError
from soakage.store.memory import StoreMemory
from soakage.store.queries import Wanted, listed_assets
from soakage.store.verdicts import without_asset

PAGE = 200
Step = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Choice:
    """Which tests are meant.

    Parameters
    ----------
    named : tuple of str
        Assets and tests as typed; all of the store unless given.
    since, until : str or None
        First and last day, ISO.
    asset_class, site : str or None
        Only of these.
    """

    named: tuple[str, ...] = ()
    since: str | None = None
    until: str | None = None
    asset_class: str | None = None
    site: str | None = None

    @property
    def narrowed(self) -> bool:
        """Whether anything says which."""
        return any((self.named, self.since, self.until, self.asset_class, self.site))

    def takes(self, test: KnownTest) -> bool:
        """Return whether a test was made on the days meant."""
        day = test.record.day.isoformat() if test.record.day else None
        if self.since is not None and (day is None or day < self.since):
            return False
        return self.until is None or (day is not None and day <= self.until)


class Chosen:
    """Tests of a store in parts of one asset each.

    Parameters
    ----------
    hands : StoreMemory
        The store.
    choice : Choice
        Which.

    Raises
    ------
    UsageError
        If something named is not there, or may be several things.
    """

    def __init__(self, hands: StoreMemory, choice: Choice) -> None:
        self._hands, self._choice = hands, choice
        self._assets: dict[str, frozenset[str] | None] = {}  # ids of the tests meant; None for all
        self._loose: list[str] = []
        if choice.named:
            self._name(choice.named)
        else:
            chosen = Wanted(
                site=choice.site, asset_class=choice.asset_class, since=choice.since, until=choice.until
            )
            with hands.store.reading() as connection:
                self._assets = dict.fromkeys(row["id"] for row in listed_assets(connection, chosen))

    def __len__(self) -> int:
        """Return how many parts there are, those without an asset not counted."""
        return len(self._assets)

    def _name(self, named: Sequence[str]) -> None:
        for text in named:
            found = asset_or_test(self._hands, text, self._choice.site)
            if isinstance(found, KnownAsset):
                self._assets[found.id] = None
            elif found.asset is None:
                self._loose.append(found.id)
            elif self._assets.get(found.asset, frozenset()) is not None:
                self._assets[found.asset] = (self._assets.get(found.asset) or frozenset()) | {found.id}
        kind = self._choice.asset_class
        if kind is not None:
            known = self._hands.assets(self._assets)
            self._assets = {
                name: tests for name, tests in self._assets.items() if known[name].values.get("class") == kind
            }

    def parts(self, step: Step | None = None) -> Iterator[list[KnownTest]]:
        """Yield the tests of one asset after another, then those without an asset.

        Parameters
        ----------
        step : callable, optional
            Called with (assets done, of how many) as they are asked for.
        """
        for done, (asset, tests) in enumerate(self._assets.items()):
            if step is not None:
                step(done, len(self._assets))
            part = [test for test in self._hands.tests(assets=[asset]) if tests is None or test.id in tests]
            if part := [test for test in part if self._choice.takes(test)]:
                yield part
        for ids in self._without_asset():
            part = [
                test for test in self._hands.tests(ids=ids) if self._choice.takes(test) and self._fits(test)
            ]
            if part:
                yield part

    def _without_asset(self) -> Iterator[list[str]]:
        if self._choice.named:
            yield list(dict.fromkeys(self._loose))
            return
        after = ""
        while True:
            with self._hands.store.reading() as connection:
                ids = without_asset(connection, after, PAGE)
            if not ids:
                return
            yield ids
            after = ids[-1]

    def _fits(self, test: KnownTest) -> bool:
        stated = test.record.asset
        return self._choice.asset_class in (None, stated.asset_class) and self._choice.site in (
            None,
            stated.site,
        )


def chosen(hands: StoreMemory, choice: Choice, *, everything: bool) -> Chosen:
    """Return the tests meant.

    Raises
    ------
    UsageError
        If nothing says which and not all are asked for.
    """
    if not choice.narrowed and not everything:
        raise UsageError(
            "Which tests? Name assets or tests, narrow them with --since, --until, --class or --site, or say --all."
        )
    return Chosen(hands, choice)
