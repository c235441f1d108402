"""Which rules judge a test on a page: those its verdict was given by, else those in use; never a file's path."""

from __future__ import annotations

from dataclasses import replace

from soakage.app.ports import KnownTest
from soakage.app.rules import Rules
from soakage.errors import InputError
from soakage.store.memory import StoreMemory
from soakage.web.shapes import fault
from soakage.wiring import rules
from soakage.wiring.house_rules import house_rules, profiles, usual, with_wording

__all__ = ["choices", "profiles", "rules_named", "rules_of"]


def choices(memory: StoreMemory) -> dict[str, str]:
    """Return the titles of the profiles a test may be judged by, by id: the one in use first."""
    used = usual(memory).profile
    return {used.id: used.title} | profiles()


def rules_named(memory: StoreMemory, name: str) -> Rules:
    """Return the rules of the profile in use where its id or nothing is named, or of one that comes with Soakage.

    Raises
    ------
    InputError
        If none has this id: what a page sends is never opened as a file.
    """
    used = usual(memory)
    if name in ("", used.profile.id):
        return used
    if name not in profiles():
        allowed = ", ".join(choices(memory))
        raise InputError(
            [fault("No profile is called so.", field="profile", given=name[:60], allowed=allowed)]
        )
    return replace(
        with_wording(rules(name), house_rules(memory).report), temperature_rule=used.temperature_rule
    )


def rules_of(memory: StoreMemory, test: KnownTest) -> Rules:
    """Return the rules the verdict that stands was given by, where they are still at hand; else those in use.

    Parameters
    ----------
    memory : StoreMemory
        The store.
    test : KnownTest
        Which.
    """
    given = memory.verdicts([test.id]).get(test.id, [])
    stood = next((one for one in reversed(given) if one.result == test.result), None)
    used = usual(memory)
    if stood is None or stood.profile_sha256 == used.profile.sha256 or stood.profile not in profiles():
        return used
    found = rules_named(memory, stood.profile)
    return found if found.profile.sha256 == stood.profile_sha256 else used
