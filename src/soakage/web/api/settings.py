"""Settings: what judges, what stands on reports, instruments, people, recipes, accounts, backup, check, exchange."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import HTTPException, Path, Request
from fastapi.responses import FileResponse
from pydantic import Field

from soakage.app.changes_json import edited_json
from soakage.store.backup import Backup
from soakage.store.checkup import Checkup, checkup_json
from soakage.web import settings_actions as actions
from soakage.web.accounts import Role
from soakage.web.api.jobs import JobShape, shape
from soakage.web.filters import clean
from soakage.web.house import house
from soakage.web.people import Administrator, Reader, Tester
from soakage.web.routing import Router
from soakage.web.settings_view import instruments, people, settings_json
from soakage.web.shapes import Day, Shape
from soakage.web.stored import Memory
from soakage.wiring import house_rules as rules
from soakage.wiring.recipes import keep_recipe_text, kept_recipes
from soakage.wiring.remote import place_of

ROUTER = Router("api-settings", prefix="/api/settings", tags=["settings"])
Json = dict[str, Any]
Line = Annotated[str, Field(max_length=400)]
Key = Annotated[str, Path(pattern="^[A-Za-z0-9_-]{20,80}$", description="Id of the work it came of.")]


class ProfileBody(Shape):
    """A profile that comes with Soakage by its id, or one of your own as TOML."""

    id: Annotated[str, Field(max_length=60)] = ""
    file: Annotated[str, Field(max_length=120)] = "profile.toml"
    toml: Annotated[str, Field(max_length=rules.LONGEST_PROFILE)] = ""


class TemperatureBody(Shape):
    """Id of a temperature rule; null for that of the profile."""

    rule: Annotated[str, Field(max_length=100)] | None


class ReportBody(Shape):
    """What stands on reports; empty for what the profile says."""

    company: Line = ""
    heading: Line = ""
    note: Line = ""


class InstrumentBody(Shape):
    """An instrument: what is stated of it, as typed."""

    instrument_serial: Line
    values: Annotated[dict[str, Line], Field(max_length=20)] = Field(default_factory=dict)
    add: bool = True


class CalibrationBody(Shape):
    """A calibration: when it runs out, when it was made, its certificate."""

    instrument_serial: Line
    due: Day
    done: Day | None = None
    certificate: Line = ""


class PersonBody(Shape):
    """A person."""

    name: Line
    licence_number: Line = ""
    text: Annotated[str, Field(max_length=1000)] = ""
    add: bool = True


class RecipeBody(Shape):
    """A recipe to keep, as TOML."""

    name: Annotated[str, Field(min_length=1, max_length=120)]
    toml: Annotated[str, Field(max_length=1_000_000)]


class AccountBody(Shape):
    """An account to open, or to give a new password and role."""

    name: Annotated[str, Field(max_length=100)]
    password: Annotated[str, Field(max_length=300)]
    role: Role


class ExchangeBody(Shape):
    """With whom to exchange; the password is used once and kept nowhere."""

    address: Annotated[str, Field(max_length=300)]
    account: Annotated[str, Field(max_length=200)] = ""
    password: Annotated[str, Field(max_length=300)] = ""
    what: Literal["push", "pull", "both"] = "both"
    dry_run: bool = False
    certificate: Annotated[str, Field(max_length=1_000_000)] = ""


@ROUTER.get("")
def read_settings(memory: Memory) -> Json:
    """Return the settings of the store."""
    return settings_json(memory)


@ROUTER.put("/profile")
def set_profile(memory: Memory, _person: Administrator, body: ProfileBody) -> Json:
    """Judge by another profile from now on."""
    if body.toml:
        rules.set_own_profile(memory, clean(body.file) or "profile.toml", body.toml.encode())
    else:
        rules.set_profile(memory, body.id)
    return settings_json(memory)


@ROUTER.put("/temperature-rule")
def set_temperature(memory: Memory, _person: Administrator, body: TemperatureBody) -> Json:
    """Correct by another temperature rule from now on."""
    rules.set_temperature_rule(memory, body.rule or "")
    return settings_json(memory)


@ROUTER.put("/report")
def set_report(memory: Memory, _person: Administrator, body: ReportBody) -> Json:
    """Write other words on reports from now on."""
    rules.set_report(memory, body.model_dump())
    return settings_json(memory)


@ROUTER.get("/instruments")
def read_instruments(memory: Memory) -> list[Json]:
    """Return the instruments, those whose calibration ran out first."""
    return [
        {
            "id": one.id, "instrument_serial": one.serial or None, "name": one.name, "calibration_due": one.due or None,
            "overdue": one.overdue, "values": one.values,
        }
        for one in instruments(memory)
    ]  # fmt: skip


@ROUTER.post("/instruments")
def keep_instrument(memory: Memory, _person: Tester, body: InstrumentBody) -> Json:
    """Add an instrument or change one, in the shape of ``register --json``."""
    return edited_json(actions.instrument_kept(memory, body.instrument_serial, body.values, add=body.add))


@ROUTER.post("/calibrations", status_code=201)
def add_calibration(memory: Memory, _person: Tester, body: CalibrationBody) -> Json:
    """Note a calibration, in the shape of ``register --json``."""
    done = body.done.isoformat() if body.done else ""
    return edited_json(
        actions.calibrated(memory, body.instrument_serial, body.due.isoformat(), done, body.certificate)
    )


@ROUTER.get("/people")
def read_people(memory: Memory) -> list[Json]:
    """Return the people."""
    return people(memory)


@ROUTER.post("/people")
def keep_person(memory: Memory, _person: Tester, body: PersonBody) -> Json:
    """Add a person or change one, in the shape of ``register --json``."""
    return edited_json(actions.person_kept(memory, body.name, body.licence_number, body.text, add=body.add))


@ROUTER.get("/recipes")
def read_recipes(memory: Memory) -> list[Json]:
    """Return the recipes that are kept, as TOML."""
    return kept_recipes(memory)


@ROUTER.post("/recipes")
def keep_recipe(memory: Memory, _person: Tester, body: RecipeBody) -> Json:
    """Keep a recipe; one of the same name is changed, and its history stays."""
    name, changed = keep_recipe_text(memory, body.toml, body.name)
    return {"name": name, "changed": changed}


@ROUTER.get("/accounts")
def read_accounts(memory: Memory, _person: Administrator) -> list[Json]:
    """Return the accounts, without anything of their passwords."""
    kept = actions.accounts_of(memory).listed()
    return [{"name": one.name, "role": one.role.value, "closed": one.closed} for one in kept]


@ROUTER.post("/accounts", status_code=204)
def open_account(request: Request, memory: Memory, _person: Administrator, body: AccountBody) -> None:
    """Open an account, or give one a new password and role."""
    actions.account_opened(house(request), memory, body.name, body.password, body.role.value)


@ROUTER.delete("/accounts/{name}", status_code=204)
def close_account(request: Request, memory: Memory, _person: Administrator, name: str) -> None:
    """Close an account."""
    actions.account_closed(house(request), memory, name)


@ROUTER.post("/backups", status_code=202)
def make_backup(request: Request, memory: Memory, person: Administrator) -> JobShape:
    """Begin a backup; where it leads to tells the key of its file."""
    shared = house(request)
    return shape(
        actions.begun(
            shared, person, "Writing a backup", "/api/settings/backups/",
            lambda job: actions.backup_made(shared, memory, job),
        )
    )  # fmt: skip


@ROUTER.get("/backups/{key}", response_class=FileResponse)
def read_backup(request: Request, person: Administrator, key: Key) -> FileResponse:
    """Return a backup that was made, as long as it is at hand."""
    found = house(request).keepsakes.get(key, person.name)
    if not isinstance(found, Backup) or not found.path.is_file():
        raise HTTPException(404, "This backup is no longer at hand. Make another.")
    return FileResponse(found.path, media_type="application/octet-stream", filename="soakage.sqlite")


@ROUTER.post("/checks", status_code=202)
def make_check(request: Request, memory: Memory, person: Administrator) -> JobShape:
    """Begin to look for anything damaged, missing or left over."""
    shared = house(request)
    return shape(
        actions.begun(
            shared, person, "Checking the store", "/api/settings/checks/",
            lambda job: actions.check_made(shared, memory, job),
        )
    )  # fmt: skip


@ROUTER.get("/checks/{key}")
def read_check(request: Request, person: Reader, key: Key) -> Json:
    """Return what a check found, in the shape of ``check --json``."""
    found = house(request).keepsakes.get(key, person.name)
    if not isinstance(found, Checkup):
        raise HTTPException(404, "What this check found is no longer at hand. Check again.")
    return checkup_json(found)


@ROUTER.post("/exchanges", status_code=202)
def begin_exchange(request: Request, memory: Memory, person: Administrator, body: ExchangeBody) -> JobShape:
    """Begin to push to another store, to pull from it, or both."""
    shared, place = house(request), place_of(body.address)
    given = body.model_dump(exclude={"certificate"})
    return shape(
        actions.begun(
            shared, person, f"Exchanging with {place}", "/api/settings/exchanges/",
            lambda job: actions.exchanged(shared, memory, job, given, body.certificate.encode()),
        )
    )  # fmt: skip


@ROUTER.get("/exchanges/{key}")
def read_exchange(request: Request, person: Administrator, key: Key) -> Json:
    """Return what came of an exchange: what was pulled and pushed, each like one of ``files`` of ``merge --json``."""
    found = house(request).keepsakes.get(key, person.name)
    if not isinstance(found, dict):
        raise HTTPException(404, "What came of this exchange is no longer at hand.")
    return found
