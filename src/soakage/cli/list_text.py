"""A list of assets and tests as text."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from soakage.cli.tables import table
from soakage.cli.wrapping import wrapped

Row = Mapping[str, Any]


def list_text(tests: Sequence[Row], assets: Sequence[Row], *, more: bool) -> Iterator[str]:
    """Yield the lines of a list.

    Parameters
    ----------
    tests, assets : sequence of mapping
        Rows of the list.
    more : bool
        Whether it was cut short.
    """
    if not tests and not assets:
        yield wrapped("Nothing here. Take in record files with 'soakage import PATH', or ask for less.")
        return
    if assets:
        yield f"Assets ({len(assets)})"
        yield from table(
            ("site", "asset", "tag", "class", "tests", "last", "status"),
            [
                (row["site"], row["asset"] or row["serial"], row["tag"], row["class"], row["tests"],
                 row["last_day"], row["status"])
                for row in assets
            ],
        )  # fmt: skip
        yield ""
    if tests:
        yield f"Tests ({len(tests)})"
        yield from table(
            ("test", "asset", "section", "day", "review", "status"),
            [
                (row["id"][:12], row["asset"], row["section"], row["day"], row["review"], status_text(row))
                for row in tests
            ],
        )
        yield ""
    if more:
        yield wrapped("There are more. Say which, or give --limit.")
    yield wrapped("Look closer with 'soakage show ASSET' or 'soakage show TEST'.")


def status_text(row: Row) -> str:
    """Return the status of a test in a list, marked where it was withdrawn."""
    status = str(row["status"] or "not judged")
    return f"withdrawn ({status})" if row["state"] == "withdrawn" else status
