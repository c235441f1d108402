"""``soakage register``: assets, sections, sites, instruments and people by hand."""

from __future__ import annotations

from datetime import datetime

import click

from soakage.cli.register_add import add
from soakage.cli.register_edit import edit
from soakage.cli.register_said import door_options, say

_DAY = click.DateTime(["%Y-%m-%d"])


@click.group(name="register")
def command() -> None:
    """Add and edit assets, sections, sites, instruments and people.

    What was before stays in the trail. A change of a nameplate judges nothing again; it says which verdicts
    were given with the old one.
    """


command.add_command(add)
command.add_command(edit)


@command.command(name="calibrate")
@click.argument("serial")
@click.option(
    "--due", required=True, type=_DAY, metavar="DAY", help="When this calibration runs out, as 2027-03-14."
)
@click.option("--done", default=None, type=_DAY, metavar="DAY", help="When it was made.")
@click.option(
    "--certificate", default="", metavar="TEXT", help="Number of the certificate, or where it is kept."
)
@door_options
def calibrate_command(
    serial: str,
    due: datetime,
    done: datetime | None,
    certificate: str,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Note a calibration of the instrument with this serial number.

    All calibrations are kept; the latest date on which one runs out is the instrument's.
    """
    from soakage.app.instruments import calibrate
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        made = done.date() if done is not None else None
        edited = calibrate(hands, serial, due.date(), done=made, certificate=certificate)
    if as_json or edited.changed:
        say(edited, as_json=as_json)
    else:
        click.echo(f"{edited.title}: calibration noted; another one runs out later.")


@command.command(name="retire")
@click.argument("asset")
@click.option("--back", is_flag=True, help="Take it back into service in the register.")
@click.option("--reason", default="", metavar="TEXT", help="Why.")
@click.option("--site", default=None, metavar="NAME", help="The site, where several assets are called so.")
@door_options
def retire_command(
    asset: str,
    back: bool,  # noqa: FBT001
    reason: str,
    site: str | None,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Mark an asset as retired: no test of it falls due; its history stays."""
    from soakage.app.editing import retire
    from soakage.app.lookup import the_asset
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        edited = retire(hands, the_asset(hands, asset, site), back=back, reason=reason.strip())
    say(edited, as_json=as_json)
