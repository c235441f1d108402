"""``soakage list``: the assets and tests of a store."""

from __future__ import annotations

import json

import click

from soakage import __version__
from soakage.cli.options import store_options

SHOWN = 50  # rows of each table where a person reads and did not say how many


@click.command(name="list")
@click.argument("text", required=False, default="")
@click.option("--site", default=None, metavar="NAME", help="Only of this site, exactly as written.")
@click.option("--class", "asset_class", default=None, metavar="CLASS", help="Only of this class of asset.")
@click.option(
    "--status", default=None, metavar="STATUS", help='Only with this verdict, for example "not judged".'
)
@click.option(
    "--section", default=None, metavar="NAME", help="Only tests of this section, exactly as written."
)
@click.option("--since", default=None, metavar="DAY", help="Only tests from this day on, as 2026-03-14.")
@click.option("--until", default=None, metavar="DAY", help="Only tests up to this day.")
@click.option("--unsigned", is_flag=True, help="Only tests that nobody signed yet.")
@click.option("--withdrawn", is_flag=True, help="Withdrawn tests too; they are marked.")
@click.option(
    "--limit", type=click.IntRange(min=1), default=None, metavar="N", help="At most so many of each."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    text: str,
    site: str | None,
    asset_class: str | None,
    status: str | None,
    section: str | None,
    since: str | None,
    until: str | None,
    unsigned: bool,  # noqa: FBT001
    withdrawn: bool,  # noqa: FBT001
    limit: int | None,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """List assets and tests; TEXT is part of a name, tag, serial number or site, or the beginning of a test's id.

    A store that does not exist yet is an empty one.
    """
    from soakage.app.contract_json import CONTRACT
    from soakage.cli.list_text import list_text
    from soakage.wiring.looking import class_given, day_given, listed, status_given, wanted

    choice = wanted(
        text=text.strip(),
        site=site,
        asset_class=class_given(asset_class),
        status=status_given(status),
        section=section,
        since=day_given("--since", since),
        until=day_given("--until", until),
        unsigned=unsigned,
        withdrawn=withdrawn,
    )
    most = limit if limit is not None or as_json else SHOWN
    tests, assets, more = listed(store, person, choice, most)
    if as_json:
        shape = {"soakage": __version__, "contract": CONTRACT, "tests": tests, "assets": assets}
        click.echo(json.dumps(shape, ensure_ascii=False, allow_nan=False, indent=1))
        return
    for line in list_text(tests, assets, more=more):
        click.echo(line)
