"""The plan of a test: what to make, how to connect, with which voltage, what to expect and to mind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from soakage.app.cautions import STEPS, Caution, cautions
from soakage.app.plan_charging import (
    Charging,
    Earthing,
    charging,
    earthing,
    from_geometry,
    time_under_voltage,
)
from soakage.app.plan_checklist import checklist
from soakage.app.plan_connections import Connection, terminals, told_apart
from soakage.app.plan_criteria import Expected, expected, index_waived
from soakage.app.plan_facts import facts_to_be
from soakage.app.plan_graded import Graded, Grading
from soakage.app.plan_methods import Chosen, choose_methods
from soakage.app.plan_notes import notes
from soakage.app.plan_order import ordered, voltage_at
from soakage.app.plan_rising import Rising, rising_test
from soakage.app.plan_voltage import Voltage
from soakage.app.rules import Rules, default_rules
from soakage.errors import UsageError
from soakage.model.asset import Asset
from soakage.model.keys import CLASSES, PURPOSES
from soakage.model.test import Paper

REFUSAL = (
    "Hazardous area: yes, and no gas-free certificate. Nothing is planned. Give the certificate "
    "(gas_free_certificate), issued by the person in charge, or have the place declared otherwise."
)


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan, or the reason nothing is planned.

    Parameters
    ----------
    asset : Asset
        Nameplate.
    paper : Paper
        Purpose, hazardous area and certificate, as stated.
    methods : tuple of Chosen
        Tests in order, with the reason for each.
    test_voltage : Voltage or None
        Highest insulation-resistance voltage of the plan; each connection carries its own.
    connections : tuple of Connection
        In order.
    pairs : tuple of (str, str)
        Every pair of parts.
    resolved : tuple of (str, str)
        Pairs whose own resistance follows from the readings.
    rising : tuple of Rising
        Step and ramp tests asked for.
    charging : Charging
        What charging takes.
    earthing : Earthing
        Longest minimum earthing time of the plan.
    earthings : tuple of Earthing
        That of each connection, in their order.
    criteria : tuple of Expected
        What will judge the readings.
    cautions : tuple of Caution
        By step.
    checklist : tuple of str
        To tick off before the first connection.
    notes : tuple of str
        What was assumed, could not be planned or should be known.
    rules : str
        Title of the rule set.
    data_sha256 : str
        Hash of the criteria files.
    refusal : str
        Why nothing is planned; empty where something is.
    """

    asset: Asset
    paper: Paper
    methods: tuple[Chosen, ...] = ()
    test_voltage: Voltage | None = None
    connections: tuple[Connection, ...] = ()
    pairs: tuple[tuple[str, str], ...] = ()
    resolved: tuple[tuple[str, str], ...] = ()
    rising: tuple[Rising, ...] = ()
    charging: Charging | None = None
    earthing: Earthing | None = None
    earthings: tuple[Earthing, ...] = ()
    criteria: tuple[Expected, ...] = ()
    cautions: tuple[Caution, ...] = ()
    checklist: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    rules: str = ""
    data_sha256: str = ""
    refusal: str = ""

    @property
    def hazardous_area(self) -> str:
        """Whether the place is a hazardous area, as printed."""
        stated, certificate = self.paper.hazardous_area, self.paper.gas_free_certificate
        number = f", gas-free certificate {certificate}" if certificate else ""
        return f"Hazardous area: {stated or 'not stated'}{number}"

    @property
    def schedule(self) -> tuple[str, Graded] | None:
        """Method and times of a graded test, or None."""
        return next(((r.method, r.graded) for r in self.rising if r.graded is not None), None)

    def method(self, method_id: str) -> Chosen:
        """Return a test of the plan by its id."""
        return next(chosen for chosen in self.methods if chosen.method.id == method_id)


def plan(
    asset: Asset,
    *,
    purpose: str | None = None,
    methods: Sequence[str] = (),
    hazardous_area: str | None = None,
    gas_free_certificate: str | None = None,
    capacitance: float | None = None,
    capacitance_source: str = "as stated",
    relative_permittivity: float | None = None,
    current_limit: float | None = None,
    absorption_exponent: float | None = None,
    grading: Grading | None = None,
    rules: Rules | None = None,
) -> Plan:
    """Return the plan of a test.

    Parameters
    ----------
    asset : Asset
        Nameplate; the class must be stated.
    purpose : str or None
        Why the test is made.
    methods : sequence of str
        Ids asked for; empty: the usual tests of the class. Step and ramp tests are planned only when asked
        for here, and then behind the tests that must pass first.
    hazardous_area : str or None
        yes, no, or None where not stated.
    gas_free_certificate : str or None
        Its number.
    capacitance : float or None
        Of the insulation [F].
    capacitance_source : str
        Where it is from.
    relative_permittivity : float or None
        Of a cable's insulation: with its geometry it gives a capacitance where none is stated.
    current_limit : float or None
        Largest current of the instrument [A].
    absorption_exponent : float or None
        From an earlier test; the earthing time then covers the residual current too.
    grading : Grading or None
        How a step test is graded; None for equal steps of one minute.
    rules : Rules or None
        What judges; the default rule set where None.

    Returns
    -------
    Plan
        With `refusal` set where nothing may be planned.

    Raises
    ------
    UsageError
        If the class is missing, or a word is none of its list, or a method is not made on the class, or
        graded times are asked for and no step test.
    """
    _check(asset, purpose, hazardous_area)
    rules = rules or default_rules()
    title, digest = rules.profile.title, rules.library.digest
    paper = Paper(
        purpose=purpose, hazardous_area=hazardous_area, gas_free_certificate=gas_free_certificate or None
    )
    if hazardous_area == "yes" and not (gas_free_certificate or "").strip():
        return Plan(asset, paper, rules=title, data_sha256=digest, refusal=REFUSAL)
    if capacitance is None and (computed := from_geometry(asset, relative_permittivity)) is not None:
        capacitance, capacitance_source = computed, "one core, from geometry and the permittivity stated"
    waived = index_waived(rules, facts_to_be(asset, "polarization-index", None, purpose))
    chosen = choose_methods(asset, purpose, methods, index_waived=waived)
    parts = terminals(asset)
    rising = tuple(r for entry in chosen if (r := rising_test(entry, asset, parts, purpose, rules, grading)))
    if grading is not None and not any(r.graded for r in rising):
        raise UsageError(
            "Graded times belong to a step test whose voltage a table gives, and none is planned. "
            "Ask for one: --test step-voltage."
        )
    connections = ordered(chosen, rising, parts, asset, purpose, rules)
    voltages = [voltage_at(c, asset, purpose, rules) for c in connections]
    highest = max((v for v in voltages if v is not None), key=lambda v: v.value, default=None)
    top = max((c.voltage for c in connections if c.voltage is not None), default=None)
    rate = next((r.rate for r in rising if r.rate is not None), None)
    by_id = {entry.method.id: entry.method for entry in chosen}
    held = {r.method: r.graded.total for r in rising if r.graded is not None}
    if absorption_exponent is None and grading is not None and grading.first is not None:
        absorption_exponent = grading.first.absorption_exponent
    earthings = tuple(
        earthing(
            max(
                held.get(name) or time_under_voltage(by_id[name], rules.library, c.voltage)
                for name in c.methods
            ),
            rules.library,
            exponent=absorption_exponent,
        )
        for c in connections
    )
    resolved = told_apart(parts.pairs, connections)
    return Plan(
        asset,
        paper,
        methods=chosen,
        test_voltage=highest,
        connections=connections,
        pairs=parts.pairs,
        resolved=resolved,
        rising=rising,
        charging=charging(
            top, capacitance=capacitance, source=capacitance_source, current_limit=current_limit,
            ramp_rate=rate,
        ),
        earthing=max(earthings, key=lambda e: e.time),
        earthings=earthings,
        criteria=_criteria(connections, chosen, asset, purpose, rules),
        cautions=_cautions(asset, chosen, rising, hazardous_area, rules, capacitance, top),
        checklist=checklist(asset),
        notes=notes(asset, parts, connections, rising, resolved),
        rules=title,
        data_sha256=digest,
    )  # fmt: skip


def _check(asset: Asset, purpose: str | None, hazardous_area: str | None) -> None:
    for what, given, allowed in (
        ("class", asset.asset_class, CLASSES),
        ("purpose", purpose, (None, *PURPOSES)),
        ("hazardous_area", hazardous_area, (None, "yes", "no")),
    ):
        if given not in allowed:
            words = ", ".join(word for word in allowed if word)
            raise UsageError(f"A plan needs to know {what}. Given: {given or 'nothing'}. Allowed: {words}.")


def _criteria(
    connections: tuple[Connection, ...],
    chosen: tuple[Chosen, ...],
    asset: Asset,
    purpose: str | None,
    rules: Rules,
) -> tuple[Expected, ...]:
    found: dict[tuple[str, str], Expected] = {}
    methods = {entry.method.id: entry.method for entry in chosen}
    for connection in connections:
        for name in connection.methods:
            facts = facts_to_be(asset, name, connection, purpose)
            for entry in expected(rules, facts, methods[name]):
                key = (entry.id, entry.limit.text if entry.limit else entry.reason)
                old = found.get(key, entry)
                what = tuple(dict.fromkeys((*old.for_what, connection.title)))
                found[key] = replace(old, for_what=what, decides=old.decides or entry.decides)
    return tuple(found.values())


def _cautions(
    asset: Asset,
    chosen: tuple[Chosen, ...],
    rising: tuple[Rising, ...],
    hazardous_area: str | None,
    rules: Rules,
    capacitance: float | None,
    top: float | None,
) -> tuple[Caution, ...]:
    over = {entry.method for entry in rising if entry.overvoltage}
    sets = [
        cautions(
            asset.asset_class, entry.method, overvoltage=entry.method.id in over,
            hazardous_area=hazardous_area, library=rules.library, capacitance=capacitance, test_voltage=top,
        )
        for entry in chosen
    ]  # fmt: skip
    once = dict.fromkeys(caution for group in sets for caution in group)
    return tuple(sorted(once, key=lambda caution: STEPS.index(caution.step)))
