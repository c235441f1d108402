"""``soakage due``: what to test next, as a work list for an outage."""

from __future__ import annotations

import json
from datetime import date, datetime

import click

from soakage.cli.options import store_options

_DAY = click.DateTime(formats=["%Y-%m-%d"])


@click.command(name="due")
@click.option(
    "--by", metavar="DATE", type=_DAY, default=None, help="Up to this day; a year from now unless given."
)
@click.option("--site", metavar="NAME", default=None, help="Only this site.")
@click.option("--class", "asset_class", metavar="CLASS", default=None, help="Only this class of asset.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    by: datetime | None,
    site: str | None,
    asset_class: str | None,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """List what falls due for a test, the neediest first: a work list for an outage.

    Intervals are common practice where nothing else is stated; local rules and the maker's come first.
    """
    from soakage import __version__
    from soakage.app.trend_json import due_json
    from soakage.cli.trend_text import work_list_text
    from soakage.cli.wrapping import wrapped
    from soakage.wiring.looking import class_given
    from soakage.wiring.memory import memory
    from soakage.wiring.trending import outage, today

    last = by.date() if by is not None else _next_year(today())
    items = outage(memory(store, person), last, site=site, asset_class=class_given(asset_class))
    if as_json:
        shape = {"soakage": __version__, "contract": 1, "by": last.isoformat(), "due": due_json(items)}
        click.echo(json.dumps(shape, ensure_ascii=False, allow_nan=False, indent=1))
        return
    if not items:
        click.echo(f"Nothing falls due up to {last.isoformat()}.")
    for line in work_list_text(items):
        click.echo(line)
    click.echo("")
    click.echo(
        wrapped(
            "Local codes and licensed practice come first. Isolate, prove dead, keep clear, discharge, earth, wait."
        )
    )


def _next_year(day: date) -> date:
    return date.fromordinal(day.toordinal() + 365)
