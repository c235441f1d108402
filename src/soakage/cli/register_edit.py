"""``soakage register edit``: what the register has, changed; what was before stays."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from soakage.cli.options import nameplate_options, stated
from soakage.cli.register_said import door_options, say, values_given

F = TypeVar("F", bound=Callable[..., Any])


def _clear(function: F) -> F:
    return click.option("--clear", multiple=True, metavar="KEY", help="Take a value away.")(function)


@click.group(name="edit")
def edit() -> None:
    """Change an asset, a section, a site, an instrument or a person."""


@edit.command(name="asset")
@click.argument("what", metavar="ASSET")
@_clear
@click.option("--reason", default="", metavar="TEXT", help="Why.")
@door_options
@nameplate_options
def asset_command(
    what: str,
    clear: tuple[str, ...],
    reason: str,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
    **options: Any,  # noqa: ANN401
) -> None:
    """Change an asset found by its exact name, tag, serial number or id.

    --asset, --site, --tag and --serial give the new name, site, tag and serial number; its id and its tests stay.
    """
    from soakage.app.editing import edit_asset
    from soakage.app.lookup import the_asset
    from soakage.wiring.memory import memory

    values = values_given(stated(options))
    hands = memory(store, person)
    with hands.store:
        edited = edit_asset(hands, the_asset(hands, what), values, clear, reason.strip())
    say(edited, as_json=as_json)


@edit.command(name="section")
@click.argument("asset")
@click.argument("name")
@click.option("--text", default=None, metavar="TEXT", help="What is to be written beside it.")
@click.option("--remove", is_flag=True, help="Take it away; only where no test is of it.")
@click.option("--site", default=None, metavar="NAME", help="The site, where several assets are called so.")
@door_options
def section_command(
    asset: str,
    name: str,
    text: str | None,
    remove: bool,  # noqa: FBT001
    site: str | None,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Change what is written beside a section, or take away one that no test is of."""
    from soakage.app.editing import edit_section
    from soakage.app.lookup import the_asset
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        found = the_asset(hands, asset, site)
        edited = edit_section(hands, found, name, text=text, add=False, remove=remove)
    say(edited, as_json=as_json)


@edit.command(name="site")
@click.argument("name")
@click.option("--name", "to", default=None, metavar="NAME", help="New name; its assets move with it.")
@click.option("--text", default=None, metavar="TEXT", help="What is to be written beside it.")
@door_options
def site_command(
    name: str,
    to: str | None,
    text: str | None,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Rename a site with all its assets, or change what is written beside it."""
    from soakage.app.editing import edit_site
    from soakage.wiring.changing import assets_at
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        assets = assets_at(hands, name) if to is not None else []
        edited = edit_site(hands, name, add=False, to=to, text=text, assets=assets)
    say(edited, as_json=as_json)


@edit.command(name="instrument")
@click.argument("serial")
@_clear
@click.option("--reason", default="", metavar="TEXT", help="Why.")
@door_options
@nameplate_options
def instrument_command(
    serial: str,
    clear: tuple[str, ...],
    reason: str,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
    **options: Any,  # noqa: ANN401
) -> None:
    """Change what the register has of an instrument; its serial number stays."""
    from soakage.app.instruments import edit_instrument
    from soakage.wiring.memory import memory

    values = values_given(stated(options))
    hands = memory(store, person)
    with hands.store:
        edited = edit_instrument(hands, serial, values, clear, add=False, reason=reason.strip())
    say(edited, as_json=as_json)


@edit.command(name="person")
@click.argument("name")
@click.option("--name", "to", default=None, metavar="NAME", help="New name.")
@click.option("--licence-number", default=None, metavar="TEXT", help="Number of their licence.")
@click.option("--text", default=None, metavar="TEXT", help="What is to be written beside the name.")
@_clear
@door_options
def person_command(
    name: str,
    to: str | None,
    licence_number: str | None,
    text: str | None,
    clear: tuple[str, ...],
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Change what the register has of a person, found by the name they were added with."""
    from soakage.app.instruments import edit_person
    from soakage.wiring.memory import memory

    given = {"name": to, "licence_number": licence_number, "text": text}
    hands = memory(store, person)
    with hands.store:
        values = {key: value for key, value in given.items() if value}
        edited = edit_person(hands, name, values, clear, add=False)
    say(edited, as_json=as_json)
