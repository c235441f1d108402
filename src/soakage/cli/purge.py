"""``soakage purge``: a test removed for good, after it was exported."""

from __future__ import annotations

import json

import click

from soakage.cli.options import store_options
from soakage.errors import UsageError

_WARNING = (
    "This removes what was stated and read, every revision, verdict, note and attachment of the test for good, here "
    "and in every store that takes a bundle of this one. That it was there, when, who changed it and why stays in the "
    "trail. To take a test out of lists and trends, withdraw it instead: 'soakage withdraw'."
)


@click.command(name="purge")
@click.argument("test", metavar="TEST")
@click.option(
    "--export", "export", required=True, metavar="FILE", type=click.Path(path_type=str, dir_okay=False),
    help="Bundle to be written first, such as test.bundle; it is read back before anything is removed.",
)  # fmt: skip
@click.option("--reason", default=None, metavar="TEXT", help="Why; needed. It stays.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    test: str,
    export: str,
    reason: str | None,
    yes: bool,  # noqa: FBT001
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Remove a test for good. It is exported first; the journal still verifies afterwards.

    Nothing of it comes back by a merge, and importing its file again is refused.
    """
    from soakage.app.changes_json import purged_json
    from soakage.app.lookup import the_test
    from soakage.app.revising import owed
    from soakage.cli.wrapping import wrapped
    from soakage.wiring.changing import purged
    from soakage.wiring.memory import memory

    why = owed(reason, "A purge")
    hands = memory(store, person)
    with hands.store:
        found = the_test(hands, test)
        if not yes:
            click.echo(wrapped(_WARNING), err=True)
            day = found.record.day.isoformat() if found.record.day else "no day"
            if not click.confirm(f"Purge {found.record.title}, {day} ({found.id[:12]})?", err=True):
                raise UsageError("Nothing was purged.")
        told = purged(hands, found, export, why)
    if as_json:
        shape = purged_json(found.id, why, told)
        click.echo(json.dumps(shape, ensure_ascii=False, allow_nan=False, indent=1))
        return
    click.echo(wrapped(f"Test {found.id[:12]} purged: {why}"))
    click.echo(
        wrapped(
            f"Exported to {export}: {told['entries']} entries, {told['blobs']} contents, read back whole."
        )
    )
    click.echo(wrapped("Sister sections compared with it keep their verdicts until 'soakage rejudge'."))
