"""``soakage register add``: new assets, sections, sites, instruments and people."""

from __future__ import annotations

from typing import Any

import click

from soakage.cli.options import nameplate_options, stated
from soakage.cli.register_said import door_options, say, values_given


@click.group(name="add")
def add() -> None:
    """Add an asset, a section, a site, an instrument or a person."""


@add.command(name="asset")
@click.argument("name", required=False, default="")
@door_options
@nameplate_options
def asset_command(
    name: str,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
    **options: Any,  # noqa: ANN401
) -> None:
    """Add an asset with its nameplate; NAME may be left out where a tag or a serial number is given."""
    from soakage.app.editing import add_asset
    from soakage.wiring.memory import memory

    given = stated(options)
    if name.strip():
        given["asset"] = name
    hands = memory(store, person)
    with hands.store:
        edited = add_asset(hands, values_given(given))
    say(edited, as_json=as_json)


@add.command(name="section")
@click.argument("asset")
@click.argument("name")
@click.option("--text", default=None, metavar="TEXT", help="What is to be written beside it.")
@click.option("--site", default=None, metavar="NAME", help="The site, where several assets are called so.")
@door_options
def section_command(
    asset: str,
    name: str,
    text: str | None,
    site: str | None,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Add a section to an asset: a phase, a winding, a core. Sections that are tested are added by themselves."""
    from soakage.app.editing import edit_section
    from soakage.app.lookup import the_asset
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        edited = edit_section(hands, the_asset(hands, asset, site), name, text=text, add=True)
    say(edited, as_json=as_json)


@add.command(name="site")
@click.argument("name")
@click.option(
    "--text", default=None, metavar="TEXT", help="What is to be written beside it, such as an address."
)
@door_options
def site_command(
    name: str,
    text: str | None,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Add a site. Sites that records name are added by themselves."""
    from soakage.app.editing import edit_site
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        edited = edit_site(hands, name, add=True, text=text)
    say(edited, as_json=as_json)


@add.command(name="instrument")
@click.argument("serial")
@door_options
@nameplate_options
def instrument_command(
    serial: str,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
    **options: Any,  # noqa: ANN401
) -> None:
    """Add an instrument by its serial number, with --instrument NAME, --calibration-due, --accuracy."""
    from soakage.app.instruments import edit_instrument
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        edited = edit_instrument(hands, serial, values_given(stated(options)), add=True)
    say(edited, as_json=as_json)


@add.command(name="person")
@click.argument("name")
@click.option("--licence-number", default=None, metavar="TEXT", help="Number of their licence.")
@click.option("--text", default=None, metavar="TEXT", help="What is to be written beside the name.")
@door_options
def person_command(
    name: str,
    licence_number: str | None,
    text: str | None,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Add a person. The name is stated, not authenticated."""
    from soakage.app.instruments import edit_person
    from soakage.wiring.memory import memory

    given = {"licence_number": licence_number, "text": text}
    hands = memory(store, person)
    with hands.store:
        values = {key: value for key, value in given.items() if value}
        edited = edit_person(hands, name, values, add=True)
    say(edited, as_json=as_json)
