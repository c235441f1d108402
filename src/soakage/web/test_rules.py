"""Which rules judge a test on a page: those its verdict was given by, else the default ones; never a file's path."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from soakage.app.ports import KnownTest
from soakage.app.rules import Rules
from soakage.errors import InputError
from soakage.standards.profile import profile
from soakage.store.memory import StoreMemory
from soakage.web.shapes import fault
from soakage.wiring import rules

DEFAULT = "default"


@cache
def profiles() -> dict[str, str]:
    """Return the titles of the profiles that come with Soakage, by id; the default one first."""
    folder = files("soakage.standards") / "data" / "profiles"
    names = sorted(
        item.name.removesuffix(".toml") for item in folder.iterdir() if item.name.endswith(".toml")
    )
    return {name: profile(name).title for name in sorted(names, key=lambda name: name != DEFAULT)}


def rules_named(name: str) -> Rules:
    """Return the rules of a profile that comes with Soakage.

    Raises
    ------
    InputError
        If none has this id: what a page sends is never opened as a file.
    """
    if name not in profiles():
        allowed = ", ".join(profiles())
        raise InputError(
            [fault("No profile is called so.", field="profile", given=name[:60], allowed=allowed)]
        )
    return rules(name)


def rules_of(memory: StoreMemory, test: KnownTest) -> Rules:
    """Return the rules the verdict that stands was given by, where they are still at hand; else the default ones.

    Parameters
    ----------
    memory : StoreMemory
        The store.
    test : KnownTest
        Which.
    """
    given = memory.verdicts([test.id]).get(test.id, [])
    stood = next((one for one in reversed(given) if one.result == test.result), None)
    if stood is not None and stood.profile in profiles():
        found = rules(stood.profile)
        if found.profile.sha256 == stood.profile_sha256:
            return found
    return rules()
