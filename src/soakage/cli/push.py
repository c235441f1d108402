"""``soakage push``: what this store holds, sent to another through its server."""

from __future__ import annotations

import json
from pathlib import Path

import click

from soakage.cli.far import far, far_options, told


@click.command(name="push")
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
    """Send the store whose server is at ADDRESS what it does not hold; nothing is lost, nothing overwritten.

    It needs an account there with the role test. The password is asked for, or stands in SOAKAGE_PASSWORD; never
    give it on the command line. Broken off, the same command again goes on with the rest.
    """
    from soakage import __version__
    from soakage.app.contract_json import CONTRACT
    from soakage.cli.exchange_text import far_text
    from soakage.wiring.exchanging_far import pushed

    with far(address, certificate, account, store, person) as (hands, remote):
        done = pushed(hands, remote, dry_run=dry_run, told=told)
    if as_json:
        shape = {"soakage": __version__, "contract": CONTRACT, "dry_run": dry_run, "files": [done]}
        click.echo(json.dumps(shape, ensure_ascii=False, allow_nan=False, indent=1))
        return
    for line in far_text(done, dry_run=dry_run, there=True):
        click.echo(line)
