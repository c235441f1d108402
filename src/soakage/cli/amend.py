"""``soakage amend``: a test corrected by a revision."""

from __future__ import annotations

import json
from typing import Any

import click

from soakage.cli.options import marks, nameplate_options, rule_options, stated, store_options


@click.command(name="amend")
@click.argument("test", metavar="TEST")
@click.option("--reason", default=None, metavar="TEXT", help="Why; needed.")
@click.option(
    "--file", "corrected", default=None, metavar="FILE", type=click.Path(path_type=str, dir_okay=False),
    help="Corrected record file, or a bare table of corrected readings.",
)  # fmt: skip
@click.option(
    "--clear", multiple=True, metavar="KEY", help="Take away a key that should not have been stated."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
@rule_options
@nameplate_options
def command(
    test: str,
    reason: str | None,
    corrected: str | None,
    clear: tuple[str, ...],
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
    profile_name: str | None,
    limits: tuple[str, ...],
    temperature_rule: str | None,
    ratios: tuple[str, ...],
    guard_band: bool,  # noqa: FBT001
    **options: Any,  # noqa: ANN401
) -> None:
    """Correct a test by a new revision with a reason; the record before and its verdicts stay.

    Give the keys that were wrong as options. Readings are corrected with --file. The revision passes every
    check of the reader, is judged, and is a draft until it is signed.
    """
    from soakage.app.changes_json import revised_json
    from soakage.app.lookup import the_test
    from soakage.app.revising import owed, revise
    from soakage.cli.changes_text import revised_text
    from soakage.wiring import rules
    from soakage.wiring.changing import amended
    from soakage.wiring.memory import memory

    owed(reason, "A revision")
    by = rules(profile_name, limits, temperature_rule, marks(ratios), guarded=guard_band)
    hands = memory(store, person)
    with hands.store:
        found = the_test(hands, test)
        record, file = amended(found, stated(options), clear, corrected)
        revised = revise(hands, found, record, by, reason, file=file)
    if as_json:
        click.echo(json.dumps(revised_json(revised), ensure_ascii=False, allow_nan=False, indent=1))
        return
    for line in revised_text(revised, "revised"):
        click.echo(line)
