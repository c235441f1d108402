"""What a store is set to judge by and to write on its reports: kept in it, and never sent to another store."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

from sqlalchemy import select

from soakage.app.rules import Rules, check_methods, with_temperature_rule
from soakage.errors import SoakageError, UsageError
from soakage.standards.library import library
from soakage.standards.profile import WORDING, Profile, embedded_profile, profile, read_profile
from soakage.store import schema
from soakage.store.asking import rows
from soakage.store.memory import StoreMemory

DEFAULT = "default"
PROFILE, TEMPERATURE, REPORT = "profile", "temperature_rule", "report"
LONGEST_PROFILE = 262_144  # bytes
LONGEST_LINE = 400  # signs of company, heading or note


@dataclass(frozen=True, slots=True)
class HouseRules:
    """What a store is set to.

    Parameters
    ----------
    profile : str
        Id of a profile that comes with Soakage; empty where it has its own.
    file, text : str
        Name and text of the store's own profile; both empty unless it has one.
    temperature_rule : str
        Rule used instead of the profile's; empty for the profile's.
    report : mapping
        ``company``, ``heading`` and ``note`` written on reports, in place of the profile's.
    """

    profile: str = DEFAULT
    file: str = ""
    text: str = ""
    temperature_rule: str = ""
    report: Mapping[str, str] = field(default_factory=dict)


@cache
def profiles() -> dict[str, str]:
    """Return the titles of the profiles that come with Soakage, by id; the default one first."""
    folder = files("soakage.standards") / "data" / "profiles"
    names = [item.name.removesuffix(".toml") for item in folder.iterdir() if item.name.endswith(".toml")]
    return {name: profile(name).title for name in sorted(names, key=lambda name: (name != DEFAULT, name))}


def house_rules(memory: StoreMemory) -> HouseRules:
    """Return what a store is set to; the usual where nothing was set."""
    table = schema.setting
    query = select(table).where(table.c.id.in_((PROFILE, TEMPERATURE, REPORT)))
    with memory.store.reading() as connection:
        kept: dict[str, Any] = {row["id"]: json.loads(row["value"]) for row in rows(connection, query)}
    return HouseRules(
        **(kept.get(PROFILE) or {}),
        temperature_rule=kept.get(TEMPERATURE) or "",
        report=kept.get(REPORT) or {},
    )


def rules_in_use(memory: StoreMemory) -> Rules:
    """Return the rules a store is set to, its wording on reports with them.

    Raises
    ------
    StandardDataError
        If its own profile does not fit this Soakage.
    """
    return rules_by(house_rules(memory))


def rules_by(kept: HouseRules) -> Rules:
    """Return the rules that settings mean."""
    found = _rules(kept.profile, kept.file, kept.text, kept.temperature_rule)
    return with_wording(found, kept.report)


def with_wording(rules: Rules, report: Mapping[str, str]) -> Rules:
    """Return rules with other wording on reports; nothing that judges is changed."""
    if not report:
        return rules
    return replace(rules, profile=replace(rules.profile, wording={**rules.profile.wording, **report}))


@lru_cache(maxsize=16)
def _rules(name: str, file: str, text: str, temperature_rule: str) -> Rules:
    chosen = own_profile(file, text.encode()) if text else check_methods(profile(name))
    return with_temperature_rule(Rules(chosen, library()), temperature_rule or None)


def own_profile(file: str, content: bytes) -> Profile:
    """Return the profile of a file that somebody brought.

    Raises
    ------
    StandardDataError
        If it is none.
    UsageError
        If it is too large.
    """
    if len(content) > LONGEST_PROFILE:
        raise UsageError(f"The file is too large for a rule set. Allowed: {LONGEST_PROFILE} bytes.")
    return check_methods(read_profile(file, content, library(), embedded_profile), file)


def set_profile(memory: StoreMemory, name: str) -> None:
    """Have a store judge by a profile that comes with Soakage.

    Raises
    ------
    UsageError
        If there is none of that id.
    """
    if name not in profiles():
        raise UsageError(f"No profile is called {name[:60]!r}. Known: {', '.join(profiles())}.")
    _keep(memory, PROFILE, {"profile": name, "file": "", "text": ""})


def set_own_profile(memory: StoreMemory, file: str, content: bytes) -> Profile:
    """Have a store judge by a profile of its own; return it.

    Raises
    ------
    StandardDataError, UsageError
        If it is none, or too large.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UsageError(f"{file}: a profile is text in UTF-8. Save it so.") from None
    found = own_profile(file, text.encode())
    _keep(memory, PROFILE, {"profile": "", "file": file, "text": text})
    return found


def set_temperature_rule(memory: StoreMemory, rule: str) -> None:
    """Have a store correct by one temperature rule; an empty one means that of the profile.

    Raises
    ------
    UsageError
        If there is no such rule.
    """
    if rule:
        with_temperature_rule(rules_by(HouseRules()), rule)
    _keep(memory, TEMPERATURE, rule)


def set_report(memory: StoreMemory, wording: Mapping[str, str]) -> None:
    """Keep what is written on reports; what is empty is the profile's own.

    Raises
    ------
    UsageError
        If a key is unknown or a text too long.
    """
    if unknown := sorted(set(wording) - WORDING):
        raise UsageError(f"Reports have no {unknown[0][:60]!r}. Known: {', '.join(sorted(WORDING))}.")
    clean = {key: " ".join(text.split()) for key, text in wording.items() if text.strip()}
    for key, text in clean.items():
        if len(text) > LONGEST_LINE or not text.isprintable():
            raise UsageError(f"{key}: {len(text)} signs. Allowed: at most {LONGEST_LINE}, in one line.")
    _keep(memory, REPORT, clean)


def _keep(memory: StoreMemory, name: str, value: object) -> None:
    with memory.store.writing(memory.person, memory.identity) as writer:
        writer.state("setting", name, {"value": value}, shared=False)


def usual(memory: StoreMemory) -> Rules:
    """Return the rules a store is set to, or the usual ones where its own do not fit this Soakage any more."""
    try:
        return rules_in_use(memory)
    except SoakageError:
        return rules_by(HouseRules())
