"""The cautions sentence by sentence: what must be said of each class and test, and at which step."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from soakage.app.cautions import STEPS, Caution, cautions
from soakage.app.plan import Plan, plan
from soakage.app.plan_json import plan_json
from soakage.methods import method, methods
from soakage.model.asset import Asset
from soakage.model.keys import CLASSES, PURPOSES
from soakage.standards.library import library

RATED: dict[str, Asset] = {
    "rotating-machine": Asset(
        asset_class="rotating-machine", rated_voltage=13800.0, winding="form-wound", year=2004,
        insulation="epoxy-mica", thermal_class="155",
    ),
    "transformer": Asset(
        asset_class="transformer", filling="oil", winding_voltages={"H": 33e3, "L": 11e3}
    ),
    "cable": Asset(asset_class="cable", rated_voltage=15e3, length=609.6),
    "switchgear": Asset(asset_class="switchgear", rated_voltage=12e3),
    "low-voltage-installation": Asset(asset_class="low-voltage-installation", nominal_voltage=230.0),
    "apparatus": Asset(asset_class="apparatus", rated_voltage=600.0),
}  # fmt: skip
MADE = tuple((name, test) for test, entry in methods().items() for name in entry.classes)

# What a person in charge would want said; the lists are the house's own, common practice, no source.
OF_ALL = (
    ("before", ("Local codes", "person in charge", "come first")),
    ("before", ("qualified", "authorised")),
    ("before", ("lightning", "induced voltage", "Stop")),
    ("before", ("Earths of other circuits",)),
    ("before", ("Charge can kill",)),
    ("isolate", ("Permit and isolation", "in the name of the person in charge")),
    ("isolate", ("Prove the detector", "prove the part dead", "the detector again")),
    ("isolate", ("Guard both ends", "every joined part")),
    ("connect", ("leads", "open and shorted")),
    ("voltage", ("voltage on the terminals", "25 V ac", "50 V dc", "EN 50191", "NFPA 70E")),
    ("during", ("Stop at once", "current")),
    ("after", ("Never take a lead off", "before", "earth")),
    ("after", ("Charge returns", "4 times the time under voltage", "prove dead", "keep earthed")),
)
OF_CLASS = (
    ("rotating-machine", "isolate", ("Drives", "soft starters", "surge capacitors", "arresters")),
    ("rotating-machine", "isolate", ("voltage transformers", "ensors", "earthed or off")),
    ("rotating-machine", "isolate", ("star point", "opened")),
    ("rotating-machine", "voltage", ("dew point", "Not")),
    ("transformer", "isolate", ("vacuum", "Never")),
    ("transformer", "isolate", ("filling", "known")),
    ("transformer", "isolate", ("Arresters", "neutral earth off")),
    ("transformer", "isolate", ("Core earth", "maker")),
    ("transformer", "connect", ("Join all terminals of a winding",)),
    ("transformer", "connect", ("earth idle windings",)),
    ("transformer", "connect", ("secondaries", "current transformers", "short")),
    ("cable", "isolate", ("far end", "Somebody")),
    ("cable", "connect", ("screens", "idle cores", "Earth")),
    ("switchgear", "isolate", ("Electronics", "arresters", "voltage transformers", "out")),
    ("switchgear", "connect", ("Capacitor banks", "never terminal to terminal")),
    ("switchgear", "voltage", ("open vacuum interrupters", "X-radiation")),
    ("low-voltage-installation", "isolate", ("Electronics", "surge-protective devices", "off")),
    ("low-voltage-installation", "connect", ("Join the live conductors",)),
)
OVER = (
    ("before", ("owner's consent", "stop rule", "repair", "in writing")),
    ("voltage", ("passing resistance and index", "same visit")),
    ("voltage", ("maker excludes direct voltage",)),
)
# Words no page of the tool may say of a part, an area or a reading.
NEVER = re.compile(
    r"\bsafe(?:ly)?\b|\bunsafe\b|\bis (?:now )?discharged\b|\b(?:all|area|part) clear\b|\bis clear\b"
    r"|\bmay be energi[sz]ed\b|\bready to energi[sz]e\b|\bno danger\b|\bharmless\b|\bcan be touched\b",
    re.IGNORECASE,
)


def said(asset_class: str | None, test: str, *, over: bool = False, area: str | None = "no") -> list[Caution]:
    found = cautions(asset_class, method(test), overvoltage=over, hazardous_area=area, library=library())
    return [replace(c, text=c.text.replace("\u00a0", " ")) for c in found]


def stands(found: list[Caution], step: str, words: tuple[str, ...]) -> bool:
    return any(c.step == step and all(word in c.text for word in words) for c in found)


@pytest.mark.parametrize(("step", "words"), OF_ALL, ids=[words[0] for _, words in OF_ALL])
@pytest.mark.parametrize(("asset_class", "test"), MADE)
def test_what_is_said_of_every_class_and_test(
    asset_class: str, test: str, step: str, words: tuple[str, ...]
) -> None:
    assert stands(said(asset_class, test), step, words)


@pytest.mark.parametrize(("owner", "step", "words"), OF_CLASS, ids=[f"{c}-{w[0]}" for c, _, w in OF_CLASS])
def test_what_is_said_of_a_class_is_said_whatever_the_test(
    owner: str, step: str, words: tuple[str, ...]
) -> None:
    for asset_class, test in MADE:
        found = said(asset_class, test)
        if asset_class == owner:
            assert stands(found, step, words)
    assert stands(said(None, "insulation-resistance"), step, words), "with no class, all is said"


@pytest.mark.parametrize(
    ("words", "owners"),
    (
        ("star point", {"rotating-machine"}),
        ("dew point", {"rotating-machine"}),
        ("far end", {"cable"}),
        ("vacuum, ", {"transformer"}),
        ("Core earth", {"transformer"}),
        ("surge-protective", {"low-voltage-installation"}),
        ("vacuum interrupters", {"switchgear", "apparatus"}),
        ("terminal to terminal", {"switchgear", "apparatus"}),
    ),
)
@pytest.mark.parametrize("asset_class", CLASSES)
def test_what_belongs_to_one_class_is_not_said_of_another(
    asset_class: str, words: str, owners: set[str]
) -> None:
    text = " ".join(c.text for c in said(asset_class, "insulation-resistance"))
    assert (words in text) == (asset_class in owners)


@pytest.mark.parametrize(("step", "words"), OVER, ids=[words[0] for _, words in OVER])
@pytest.mark.parametrize(("asset_class", "test"), MADE)
def test_what_is_said_of_an_overvoltage_and_only_then(
    asset_class: str, test: str, step: str, words: tuple[str, ...]
) -> None:
    assert stands(said(asset_class, test, over=True), step, words)
    assert not stands(said(asset_class, test), step, words)


@pytest.mark.parametrize("asset_class", CLASSES)
def test_extruded_cable_that_has_been_in_service(asset_class: str) -> None:
    # IEEE Std 400-2012 (from memory): direct withstand is not advised for service-aged extruded cable.
    words = ("extruded cable", "in service")
    assert stands(said(asset_class, "insulation-resistance", over=True), "voltage", words) == (
        asset_class == "cable"
    )


@pytest.mark.parametrize(
    ("area", "word"),
    ((None, "Hazardous area: not stated"), ("yes", "gas-free certificate"), ("no", "")),
)
@pytest.mark.parametrize(("asset_class", "test"), MADE)
def test_the_hazardous_area(asset_class: str, test: str, area: str | None, word: str) -> None:
    found = said(asset_class, test, area=area)
    about = [c for c in found if "azardous" in c.text or "xplosive" in c.text]
    assert len(about) == (area != "no")
    assert all(c.step == "before" and word in c.text for c in about)


@pytest.mark.parametrize(("asset_class", "test"), MADE)
def test_the_steps_come_in_the_order_of_the_hands(asset_class: str, test: str) -> None:
    for over in (False, True):
        steps = [c.step for c in said(asset_class, test, over=over, area=None)]
        assert steps == sorted(steps, key=STEPS.index)
        assert set(steps) == set(STEPS), "no step is without its caution"


# ---- in a whole plan --------------------------------------------------------------------------------------
def words_of(found: Plan) -> str:
    parts = [c.text for c in found.cautions]
    parts += [*found.checklist, *found.notes, found.refusal, found.hazardous_area]
    parts += [entry.why for entry in found.methods]
    parts += [condition for entry in found.rising for condition in entry.conditions]
    parts += [c.note for c in found.connections]
    parts += [found.charging.text] if found.charging else []
    parts += [e.text for e in found.earthings]
    return "\n".join(parts)


@pytest.mark.parametrize(("asset_class", "test"), MADE)
@pytest.mark.parametrize("area", (None, "no", "yes"))
def test_no_plan_says_what_no_reading_can_know(asset_class: str, test: str, area: str | None) -> None:
    for certificate in (None, "GF-1"):
        found = plan(
            RATED[asset_class], methods=(test,), hazardous_area=area, gas_free_certificate=certificate,
            capacitance=1e-7, current_limit=3e-3, absorption_exponent=0.8,
        )  # fmt: skip
        assert not NEVER.search(words_of(found))
        assert not NEVER.search(str(plan_json(found)))


@pytest.mark.parametrize("text", ("The part is discharged.", "It is safe.", "May be energised", "All clear"))
def test_the_look_finds_what_it_is_for(text: str) -> None:
    assert NEVER.search(text)


@pytest.mark.parametrize(("asset_class", "test"), MADE)
@pytest.mark.parametrize("purpose", (None, *PURPOSES))
def test_every_plan_carries_the_cautions_of_its_tests(
    asset_class: str, test: str, purpose: str | None
) -> None:
    found = plan(RATED[asset_class], methods=(test,), purpose=purpose, hazardous_area="no")
    over = {entry.method for entry in found.rising if entry.overvoltage}
    shown = {(c.step, c.text.replace("\u00a0", " ")) for c in found.cautions}
    for entry in found.methods:
        for caution in said(asset_class, entry.method.id, over=entry.method.id in over):
            if "Charge can kill" not in caution.text:
                assert (caution.step, caution.text) in shown


@pytest.mark.parametrize("asset_class", CLASSES)
def test_the_checklist_begins_with_the_permit_and_ends_with_the_earths(asset_class: str) -> None:
    items = plan(RATED[asset_class]).checklist
    assert items[0].startswith("Permit held")
    assert "Detector, part, detector again" in items[2]
    assert items[-1].startswith("All terminals earthed")
    assert all(len(item) <= 60 for item in items), "short enough to tick"
    assert len(set(items)) == len(items)


@pytest.mark.parametrize(
    ("asset_class", "words"),
    (
        ("rotating-machine", ("surge capacitors", "Drive", "Sensors", "Star point")),
        (
            "transformer",
            ("vacuum", "All terminals of each winding", "secondaries", "neutral earth", "Core earth"),
        ),
        ("cable", ("Far end", "both ends", "Screens and idle cores")),
        ("switchgear", ("Electronics", "transformers out", "vacuum interrupter", "capacitor")),
        ("low-voltage-installation", ("Electronics and surge devices off", "Lamps", "Neutral")),
        ("apparatus", ("Electronics", "capacitor", "vacuum interrupter")),
    ),
)
def test_the_checklist_of_a_class(asset_class: str, words: tuple[str, ...]) -> None:
    text = "\n".join(plan(RATED[asset_class]).checklist)
    assert [word for word in words if word not in text] == []
