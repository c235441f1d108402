"""``soakage explain``: formula, source, status and worked example of anything that has an id."""

from __future__ import annotations

import json

import click

from soakage.errors import UsageError


@click.command(name="explain")
@click.argument("name", required=False, metavar="QUANTITY|CRITERION|RULE|profile")
@click.argument("pairs", nargs=-1, metavar="[KEY=VALUE]...")
@click.option("--with", "given", multiple=True, metavar="KEY=VALUE", help="Work it with your own numbers.")
@click.option("--profile", "profile_name", metavar="NAME|FILE", default=None, help="Profile to print.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON; values in SI.")
def command(
    name: str | None,
    pairs: tuple[str, ...],
    given: tuple[str, ...],
    profile_name: str | None,
    as_json: bool,  # noqa: FBT001
) -> None:
    """Explain a quantity, formula, criterion, temperature rule, table, threshold or method.

    'soakage explain' alone lists every id; 'soakage explain profile' prints the rule set. For example:

    soakage explain polarization_index --with insulation_resistance_60s="435 MOhm"
    insulation_resistance_600s="1.62 GOhm"
    """
    from soakage.app.explain import explain, known_ids
    from soakage.app.explain_compute import compute
    from soakage.cli.explain_text import explanation_json, explanation_text, profile_text
    from soakage.standards.library import library
    from soakage.wiring import named_profile

    criteria = library()
    if name is None:
        for known in known_ids(criteria):
            click.echo(known)
        return
    if name == "profile":
        for line in profile_text(named_profile(profile_name or "default"), criteria):
            click.echo(line)
        return
    values = _pairs((*given, *pairs))
    explanation = explain(name, criteria)
    worked = compute(explanation, values, criteria) if values else None
    if as_json:
        click.echo(json.dumps(explanation_json(explanation, worked), ensure_ascii=False, indent=1))
        return
    for line in explanation_text(explanation, worked):
        click.echo(line)


def _pairs(texts: tuple[str, ...]) -> dict[str, str]:
    values: dict[str, str] = {}
    for text in texts:
        key, sign, value = text.partition("=")
        if not sign or not key.strip() or not value.strip():
            raise UsageError(f'{text!r}: write key=value, for example test_voltage="5 kV".')
        values[key.strip()] = value.strip()
    return values
