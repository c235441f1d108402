"""What the commands of the register share: values as typed in, what came of an edit out."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

import click

from soakage.cli.options import store_options

if TYPE_CHECKING:
    from soakage.app.edited import Edited

F = TypeVar("F", bound=Callable[..., Any])


def door_options(function: F) -> F:
    """Add what every command of the register takes: --json, --store, --as."""
    json_option = click.option(
        "--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract."
    )
    return json_option(store_options(function))


def values_given(options: Mapping[str, str]) -> dict[str, Any]:
    """Return nameplate values as typed as plain values; what was noticed goes to the error stream."""
    from soakage.wiring.changing import plain_values

    values, findings = plain_values(options)
    for finding in findings:
        click.echo(finding.sentence, err=True)
    return values


def say(edited: Edited, *, as_json: bool) -> None:
    """Print what came of an edit."""
    from soakage.app.changes_json import edited_json
    from soakage.cli.changes_text import edited_text

    if as_json:
        click.echo(json.dumps(edited_json(edited), ensure_ascii=False, allow_nan=False, indent=1))
        return
    for line in edited_text(edited):
        click.echo(line)
