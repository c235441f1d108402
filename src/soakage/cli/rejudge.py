"""``soakage rejudge``: any part of history judged again by other rules."""

from __future__ import annotations

import json
import sys

import click

from soakage.cli.options import marks, rule_options, store_options


@click.command(name="rejudge")
@click.argument("named", nargs=-1, metavar="[ASSET|TEST]...")
@click.option("--all", "everything", is_flag=True, help="All tests of the store.")
@click.option("--since", default=None, metavar="DAY", help="Only tests from this day on, as 2026-03-14.")
@click.option("--until", default=None, metavar="DAY", help="Only tests up to this day.")
@click.option("--class", "asset_class", default=None, metavar="CLASS", help="Only of this class of asset.")
@click.option("--site", default=None, metavar="NAME", help="Only of this site, exactly as written.")
@click.option("--dry-run", is_flag=True, help="Show what would come of it; keep nothing.")
@click.option("--reason", default="", metavar="TEXT", help="Why, for the trail.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
@rule_options
def command(
    named: tuple[str, ...],
    everything: bool,  # noqa: FBT001
    since: str | None,
    until: str | None,
    asset_class: str | None,
    site: str | None,
    dry_run: bool,  # noqa: FBT001
    reason: str,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
    profile_name: str | None,
    limits: tuple[str, ...],
    temperature_rule: str | None,
    ratios: tuple[str, ...],
    guard_band: bool,  # noqa: FBT001
) -> None:
    """Judge kept tests again: by another edition, another profile, your own limit, or this version of the software.

    Sister sections of a visit are judged together. A verdict is added where the result differs; those given
    before stay. Ctrl-C keeps the assets that were done.

    Exit status: 1 if a test is investigate or unfit now and stood better before, 2 if nothing could be judged, else 0.
    """
    from soakage.app.changes_json import rejudged_json
    from soakage.app.rejudge import rejudge
    from soakage.cli.progress import progress_of
    from soakage.cli.rejudge_text import rejudged_text
    from soakage.wiring import rules
    from soakage.wiring.looking import class_given, day_given
    from soakage.wiring.memory import memory
    from soakage.wiring.rejudging import Choice, chosen

    by = rules(profile_name, limits, temperature_rule, marks(ratios), guarded=guard_band)
    days = day_given("--since", since), day_given("--until", until)
    choice = Choice(named, *days, class_given(asset_class), site)
    hands = memory(store, person)
    judged, changed = 0, []
    with hands.store:
        which = chosen(hands, choice, everything=everything)
        with progress_of(len(which)) as step:
            for one in rejudge(hands, which.parts(step), by, reason=reason.strip(), keep=not dry_run):
                judged += 1
                if one.changed:
                    changed.append(one)
    if as_json:
        shape = rejudged_json(judged, changed, dry_run=dry_run)
        click.echo(json.dumps(shape, ensure_ascii=False, allow_nan=False, indent=1))
    else:
        for line in rejudged_text(judged, changed, dry_run=dry_run):
            click.echo(line)
    if not judged:
        sys.exit(2)
    sys.exit(1 if any(one.worse for one in changed) else 0)
