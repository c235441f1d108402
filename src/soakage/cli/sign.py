"""``soakage sign``: review and sign-off of tests."""

from __future__ import annotations

import json

import click

from soakage.cli.options import store_options


@click.command(name="sign")
@click.argument("tests", nargs=-1, required=True, metavar="TEST...")
@click.option("--review", is_flag=True, help="Reviewed only; a sign-off comes after.")
@click.option("--visit", is_flag=True, help="All tests of the visit of each.")
@click.option(
    "--status", default=None, metavar="STATUS", help="Your own status, where it is another one; needs --text."
)
@click.option("--text", default="", metavar="TEXT", help="What you add, or why your status is another one.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    tests: tuple[str, ...],
    review: bool,  # noqa: FBT001
    visit: bool,  # noqa: FBT001
    status: str | None,
    text: str,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Sign tests, or record a review of them: who stands for which status, and when. All are signed, or none.

    The name is stated, not authenticated; this is no electronic signature in law. After it only a revision
    changes a test. A status is no leave to energise.
    """
    from soakage.app.changes_json import signed_json
    from soakage.app.lookup import the_test
    from soakage.app.signing import sign_off, visits_of
    from soakage.cli.changes_text import signed_text
    from soakage.wiring.looking import status_given
    from soakage.wiring.memory import memory

    given = status_given(status)
    hands = memory(store, person)
    with hands.store:
        found = list({test.id: test for test in (the_test(hands, typed) for typed in tests)}.values())
        if visit:
            found = visits_of(hands, found)
        done = sign_off(hands, found, signed=not review, status=given, text=text)
    if as_json:
        click.echo(json.dumps(signed_json(done, hands.person), ensure_ascii=False, allow_nan=False, indent=1))
        return
    for line in signed_text(done, hands.person):
        click.echo(line)
