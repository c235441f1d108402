"""Options that several commands share: every nameplate key of the record file, and the rules."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

import click

from soakage.errors import UsageError
from soakage.methods import words
from soakage.model.keys import KEYS, Kind
from soakage.units import parse

F = TypeVar("F", bound=Callable[..., Any])
_FLAGS = {key.name: f"--{key.name.replace('_', '-')}" for key in KEYS.values()}


def nameplate_options(function: F) -> F:
    """Add one option for each key of the record file; values are read like those of a file."""
    for key in reversed(list(KEYS.values())):
        allowed = f" One of: {', '.join(words(key))}." if key.kind is Kind.WORD else ""
        function = click.option(
            _FLAGS[key.name], f"key_{key.name}", metavar="TEXT", default=None, help=key.meaning + allowed
        )(function)
    return function


def stated(options: Mapping[str, Any]) -> dict[str, str]:
    """Return the keys given as options, as typed."""
    return {
        name.removeprefix("key_"): str(value)
        for name, value in options.items()
        if name.startswith("key_") and value is not None
    }


def rule_options(function: F) -> F:
    """Add the options that choose what judges."""
    function = click.option(
        "--guard-band", "guard_band", is_flag=True,
        help="Count a limit as met only beyond its guard band (95 %), where an accuracy is declared.",
    )(function)  # fmt: skip
    function = click.option(
        "--ratio", "ratios", multiple=True, metavar="LATER/EARLIER",
        help="A further ratio of resistances, for example 120/30 (seconds).",
    )(function)  # fmt: skip
    function = click.option(
        "--temperature-rule", metavar="ID", default=None,
        help="Temperature rule to use instead of the profile's.",
    )(function)  # fmt: skip
    function = click.option(
        "--limit", "limits", multiple=True, metavar="LIMIT",
        help='Your own limit: "200 MOhm", or "polarization_index 1.5".',
    )(function)  # fmt: skip
    return click.option(
        "--profile", "profile_name", metavar="NAME|FILE", default=None, help="Rule set to judge by."
    )(function)


def archive_option(function: F) -> F:
    """Add the folder of earlier tests that a forecast is rescaled by."""
    return click.option(
        "--archive", metavar="FOLDER", default=None, type=click.Path(path_type=str, file_okay=False),
        help="Folder of your complete tests: the forecast of a test that ended early is rescaled by them, from 20 on.",
    )(function)  # fmt: skip


def store_options(function: F) -> F:
    """Add the options that say which store is meant and who works there."""
    function = click.option(
        "--as", "person", metavar="NAME", default=None,
        help="Who makes the change; stated, not authenticated. The operating system's user unless given.",
    )(function)  # fmt: skip
    return click.option(
        "--store", metavar="PLACE", default=None,
        help="Path, or postgresql:// address. SOAKAGE_STORE, else your data folder, unless given.",
    )(function)  # fmt: skip


def marks(texts: tuple[str, ...]) -> tuple[tuple[float, float], ...]:
    """Return ratios as (later, earlier) in seconds.

    Raises
    ------
    UsageError
        If a text is not two times with a slash, the later first.
    """
    pairs = []
    for text in texts:
        parts = text.split("/")
        if len(parts) != 2:
            raise UsageError(f"--ratio {text!r}: write two marks with a slash, for example 120/30.")
        later, earlier = (parse(part, "time").value for part in parts)
        if not later > earlier > 0:
            raise UsageError(f"--ratio {text!r}: the later mark comes first, both above zero.")
        pairs.append((later, earlier))
    return tuple(pairs)
