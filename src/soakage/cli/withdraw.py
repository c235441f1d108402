"""``soakage withdraw``: a test that should not count, kept and marked."""

from __future__ import annotations

import json

import click

from soakage.cli.options import marks, rule_options, store_options


@click.command(name="withdraw")
@click.argument("test", metavar="TEST")
@click.option("--reason", default=None, metavar="TEXT", help="Why; needed.")
@click.option("--back", is_flag=True, help="Take the withdrawal back.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
@rule_options
def command(
    test: str,
    reason: str | None,
    back: bool,  # noqa: FBT001
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
    profile_name: str | None,
    limits: tuple[str, ...],
    temperature_rule: str | None,
    ratios: tuple[str, ...],
    guard_band: bool,  # noqa: FBT001
) -> None:
    """Withdraw a test: it is kept and marked with the reason, and counts in no list or trend.

    Sister sections that were compared with it are judged again.
    """
    from soakage.app.changes_json import revised_json
    from soakage.app.lookup import the_test
    from soakage.app.revising import withdraw
    from soakage.cli.changes_text import revised_text
    from soakage.wiring import rules
    from soakage.wiring.memory import memory

    by = rules(profile_name, limits, temperature_rule, marks(ratios), guarded=guard_band)
    hands = memory(store, person)
    with hands.store:
        revised = withdraw(hands, the_test(hands, test), by, reason, back=back)
    if as_json:
        click.echo(json.dumps(revised_json(revised), ensure_ascii=False, allow_nan=False, indent=1))
        return
    for line in revised_text(revised, "taken back" if back else "withdrawn"):
        click.echo(line)
