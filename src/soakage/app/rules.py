"""The rules a set of records is judged by: profile, criteria, the user's own limits and choices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

from soakage.errors import QuantityError, StandardDataError, UsageError
from soakage.methods import methods
from soakage.model.verdict import Status
from soakage.quantities import lookup, ratio_marks
from soakage.standards.criterion import Condition, Criterion, Kind, Standard, Verified, Waiver
from soakage.standards.library import Library, library
from soakage.standards.profile import Facts, Profile, TemperatureUse, profile
from soakage.units import format_quantity, parse

USER = Standard("user", "Your own limit", "", "Limits given by the user")
DEFAULT_LIMIT_QUANTITY = "insulation_resistance_60s_corrected"


@dataclass(frozen=True, slots=True)
class Rules:
    """Everything that judges.

    Parameters
    ----------
    profile : Profile
        The rule set.
    library : Library
        The criteria files.
    limits : tuple of Criterion
        The user's own.
    temperature_rule : str or None
        Rule the user chose instead of the profile's.
    ratios : tuple of (later, earlier)
        Ratios the user asked for, marks in seconds.
    guarded : bool
        Whether a limit counts as met only beyond its guard band, whatever the profile says.
    """

    profile: Profile
    library: Library
    limits: tuple[Criterion, ...] = ()
    temperature_rule: str | None = None
    ratios: tuple[tuple[float, float], ...] = ()
    guarded: bool = False

    def __post_init__(self) -> None:
        """Refuse a profile by which a method decides that does not exist."""
        check_methods(self.profile)

    def temperature_for(self, facts: Facts) -> TemperatureUse | None:
        """Return the temperature rule and base for these facts; the user's choice first."""
        use = self.profile.temperature_for(facts)
        if self.temperature_rule is None or facts.get("class") == "low-voltage-installation":
            return use
        rule = self.library.temperature_rules[self.temperature_rule]
        base = rule.base if rule.base is not None else (use.base if use else 40.0)
        return TemperatureUse(rule.id, base, (), "The user's choice.")

    def correction_keys(self, facts: Facts) -> tuple[str, ...]:
        """Return the missing keys on which the temperature rule hangs; empty when one is settled."""
        if self.temperature_for(facts) is not None:
            return ()
        keys = [
            condition.key
            for use in self.profile.temperatures
            if all(c.holds(facts.get(c.key)) is not False for c in use.applies)
            for condition in use.applies
            if facts.get(condition.key) is None
        ]
        return tuple(dict.fromkeys(keys))


def check_methods(profile: Profile, name: str = "") -> Profile:
    """Return a profile whose uses name only methods that exist.

    Parameters
    ----------
    profile : Profile
        The rule set.
    name : str, optional
        Of its file, for the message; its id unless given.

    Returns
    -------
    Profile

    Raises
    ------
    StandardDataError
        If it names another; the message lists those that do.
    """
    known = (*methods(), "*")
    for word in (word for use in profile.uses for word in use.decides):
        if word not in known:
            raise StandardDataError(
                f"{name or profile.id}: decides names {word!r}; allowed: {', '.join(known)}."
            )
    return profile


@cache
def default_rules() -> Rules:
    """Return the default profile over the criteria files that come with Soakage."""
    return Rules(profile("default"), library())


def with_temperature_rule(rules: Rules, rule_id: str | None) -> Rules:
    """Return the rules with another temperature rule.

    Raises
    ------
    UsageError
        If no rule has this id.
    """
    if rule_id is not None and rule_id not in rules.library.temperature_rules:
        known = ", ".join(sorted(rules.library.temperature_rules))
        raise UsageError(f"No temperature rule is called {rule_id!r}. Known: {known}.")
    return replace(rules, temperature_rule=rule_id)


def user_limits(texts: Sequence[str]) -> tuple[Criterion, ...]:
    """Return the user's limits as criteria.

    Parameters
    ----------
    texts : sequence of str
        ``"200 MOhm"`` for a lower limit on the 60 s resistance at the class's base temperature, or a
        quantity's id and a figure, ``"polarization_index 1.5"``; ``"< 3 mA/(V F)"`` after an id gives
        an upper limit.

    Returns
    -------
    tuple of Criterion

    Raises
    ------
    UsageError
        If a text names no quantity or gives no figure of its dimension.
    """
    return tuple(_user_limit(number, text) for number, text in enumerate(texts, start=1))


def _user_limit(number: int, text: str) -> Criterion:
    words = text.strip().split(maxsplit=1)
    if not words:
        raise UsageError('A limit is empty. Write --limit "200 MOhm" or --limit "polarization_index 1.5".')
    if words[0][0].isalpha():
        quantity, figure = words[0], words[1] if len(words) > 1 else ""
    else:
        quantity, figure = DEFAULT_LIMIT_QUANTITY, text.strip()
    entry = lookup(quantity)
    upper_by_nature = quantity in ("dielectric_discharge", "phase_spread", "voltage_dependence")
    above = figure.startswith(("<", "≤")) or (upper_by_nature and not figure.startswith((">", "≥")))
    sense = "upper" if above else "lower"
    try:
        value = parse(figure.lstrip("<>=≤≥ "), entry.dimension).value
    except QuantityError as problem:
        raise UsageError(f"--limit {text!r}: {problem}") from problem
    return Criterion(
        id=f"user.limit-{number}",
        group=f"user.limit-{number}",
        name=f"{entry.name}, your own limit",
        quantity=quantity,
        kind=Kind.CONSTANT,
        sense=sense,
        standard=USER,
        clause="",
        verified=Verified.USER,
        reported_by="",
        rationale="Given by the user.",
        breach=Status.UNFIT,
        breach_means="The user's own limit is not met.",
        applies=tuple[Condition, ...](),
        limit=value,
        waivers=_index_waivers(quantity),
    )


def _index_waivers(quantity: str) -> tuple[Waiver, ...]:
    """Return when a limit on a ratio of a machine is not applicable: its currents are too small for it."""
    if ratio_marks(quantity) is None:
        return ()
    line = library().thresholds["ieee-43-2013.index-not-judged-above"]
    return (
        Waiver(
            reason=f"Above {format_quantity(line.value, 'resistance', trim=True)} at 40 °C the ratio is computed and "
            "shown, not judged.",
            when=(Condition("class", words=("rotating-machine",)),),
            quantity=DEFAULT_LIMIT_QUANTITY,
            above=line.value,
        ),
    )
