"""``soakage pull``: what another store holds, taken through its server."""

from __future__ import annotations

import json
from pathlib import Path

import click

from soakage.cli.far import far, far_options, told


@click.command(name="pull")
@far_options
def command(
    address: str,
    account: str | None,
    certificate: Path | None,
    dry_run: bool,  # noqa: FBT001
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Take what the store whose server is at ADDRESS holds and this one does not; nothing is lost or overwritten.

    It needs an account there. The password is asked for, or stands in SOAKAGE_PASSWORD; never give it on the command
    line. Broken off, the same command again goes on with the rest.
    """
    from soakage.app.exchange_json import merge_json
    from soakage.cli.exchange_text import far_text
    from soakage.wiring.exchanging_far import pulled

    with far(address, certificate, account, store, person) as (hands, remote):
        shape = merge_json(
            [(str(remote.place), pulled(hands, remote, dry_run=dry_run, told=told))], dry_run=dry_run
        )
    if as_json:
        click.echo(json.dumps(shape, ensure_ascii=False, allow_nan=False, indent=1))
        return
    for line in far_text(shape["files"][0], dry_run=dry_run, there=False):
        click.echo(line)
