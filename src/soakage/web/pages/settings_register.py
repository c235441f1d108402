"""Settings: instruments with their calibration, people, recipes."""

from __future__ import annotations

from typing import Annotated

from fastapi import Form, HTTPException, Request, UploadFile
from fastapi.responses import RedirectResponse, Response

from soakage.errors import InputError, SoakageError
from soakage.importers.recipe_file import LARGEST, read_recipe
from soakage.model.keys import KEYS
from soakage.web import settings_actions as actions
from soakage.web.batches import name_of
from soakage.web.forms import Typed
from soakage.web.people import Tester
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.settings_view import PLATE, instruments, people
from soakage.web.shapes import fault
from soakage.web.stored import Memory
from soakage.web.test_files import sent
from soakage.wiring.recipes import keep_recipe_text, kept_recipes

ROUTER = Router("settings-register")


def _faults(problem: Exception | None) -> list[object]:
    if isinstance(problem, InputError):
        return list(problem.faults)
    return [fault(str(problem))] if problem else []


def _instruments(request: Request, memory: Memory, problem: Exception | None = None) -> Response:
    return page(
        request, "settings_instruments.html", title="Instruments", current="settings", kept=instruments(memory),
        keys=[KEYS[name] for name in PLATE], faults=_faults(problem), status=422 if problem else 200,
    )  # fmt: skip


@ROUTER.get("/settings/instruments", name="instruments")
def show_instruments(request: Request, memory: Memory) -> Response:
    """Show the instruments, those whose calibration ran out first."""
    return _instruments(request, memory)


@ROUTER.post("/settings/instruments/{what}", name="instruments-change")
def change_instrument(request: Request, memory: Memory, person: Tester, what: str, typed: Typed) -> Response:
    """Add an instrument, change what is stated of one, or note a calibration."""
    del person
    serial = typed.get("instrument_serial", "")
    try:
        if what == "calibrated":
            done, certificate = typed.get("done", ""), typed.get("certificate", "")
            actions.calibrated(memory, serial, typed.get("due", ""), done, certificate)
        else:
            actions.instrument_kept(memory, serial, typed, add=what == "add")
    except SoakageError as problem:
        return _instruments(request, memory, problem)
    return RedirectResponse("/settings/instruments", 303)


def _people(request: Request, memory: Memory, problem: Exception | None = None) -> Response:
    return page(
        request, "settings_people.html", title="People", current="settings", kept=people(memory),
        faults=_faults(problem), status=422 if problem else 200,
    )  # fmt: skip


@ROUTER.get("/settings/people", name="people")
def show_people(request: Request, memory: Memory) -> Response:
    """Show the people of the store."""
    return _people(request, memory)


@ROUTER.post("/settings/people/{what}", name="people-change")
def change_person(
    request: Request,
    memory: Memory,
    person: Tester,
    what: str,
    name: Annotated[str, Form(max_length=200)] = "",
    licence_number: Annotated[str, Form(max_length=200)] = "",
    text: Annotated[str, Form(max_length=1000)] = "",
) -> Response:
    """Add a person, or change what is written of one."""
    del person
    try:
        actions.person_kept(memory, name, licence_number, text, add=what == "add")
    except SoakageError as problem:
        return _people(request, memory, problem)
    return RedirectResponse("/settings/people", 303)


def _recipes(request: Request, memory: Memory, problem: Exception | None = None) -> Response:
    return page(
        request, "settings_recipes.html", title="Recipes", current="settings", kept=kept_recipes(memory),
        faults=_faults(problem), status=422 if problem else 200,
    )  # fmt: skip


@ROUTER.get("/settings/recipes", name="recipes")
def show_recipes(request: Request, memory: Memory) -> Response:
    """Show the recipes that are kept."""
    return _recipes(request, memory)


@ROUTER.get("/settings/recipes/{recipe}.toml", name="recipe-file")
def recipe_file(memory: Memory, recipe: str) -> Response:
    """Return a kept recipe as a file to share."""
    found = next((row for row in kept_recipes(memory) if row["id"] == recipe), None)
    if found is None:
        raise HTTPException(404, "No recipe of this id is kept.")
    return sent(str(found["text"]).encode(), f"{found['name']}.toml", media_type="application/toml")


@ROUTER.post("/settings/recipes", name="recipe-bring")
def bring_recipe(
    request: Request,
    memory: Memory,
    person: Tester,
    file: UploadFile,
    name: Annotated[str, Form(max_length=120)] = "",
) -> Response:
    """Keep a recipe that somebody shared."""
    del person
    called = name_of(file.filename, "recipe.toml")
    try:
        data = file.file.read(LARGEST + 1)
        recipe = read_recipe(data, called)
        keep_recipe_text(memory, data.decode("utf-8-sig"), name.strip() or recipe.name or called)
    except (SoakageError, UnicodeDecodeError) as problem:
        return _recipes(request, memory, problem)
    return RedirectResponse("/settings/recipes", 303)
