"""Plans of what the register knows, the sheets begun on them, and sheets on their way into the store as tests."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from soakage.app.capture import MICROSECONDS, Progress, progress, sheet_of
from soakage.app.capture_sheets import sheets_of, written
from soakage.app.intake import Incoming, Intake, take_in
from soakage.app.plan import Plan, plan
from soakage.app.register import title_of
from soakage.app.rules import Rules
from soakage.errors import UsageError
from soakage.importers.reading import read_bytes
from soakage.importers.statement import read_statement
from soakage.importers.write_record import schedule_text
from soakage.model.asset import Asset
from soakage.model.keys import KEYS
from soakage.model.stated import value_of
from soakage.store.drafts import KeptDraft, begin_draft, remove_draft
from soakage.store.memory import StoreMemory

ASKED = ("purpose", "hazardous_area", "gas_free_certificate", "capacitance", "current_limit")
HEADER = (
    "permit", "work_order", "tested_by", "witnessed_by", "winding_temperature", "insulation_temperature",
    "temperature_method", "ambient_temperature", "relative_humidity", "surface", "hours_out_of_service", "attached",
    "instrument", "instrument_serial", "calibration_due", "notes",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan with what it was made of.

    Parameters
    ----------
    plan : Plan
        The plan.
    asset : str or None
        Id of the asset, where it is one of the register.
    title : str
        What the asset is called.
    typed : mapping of str to str
        Nameplate and questions as typed.
    """

    plan: Plan
    asset: str | None
    title: str
    typed: Mapping[str, str]


def plan_for(
    memory: StoreMemory, asset: str | None, typed: Mapping[str, str], methods: Sequence[str], rules: Rules
) -> Planned:
    """Return the plan of an asset of the register, or of a nameplate as typed.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    asset : str or None
        Id of the asset.
    typed : mapping of str to str
        Keys of the record file: purpose and the like, and the nameplate where no asset is given.
    methods : sequence of str
        Tests asked for; the usual ones of the class where empty.
    rules : Rules
        What judges.

    Raises
    ------
    InputError, UsageError
        If something typed cannot be read, or the class is missing.
    """
    given = {key: text for key, text in typed.items() if text and key in KEYS}
    read = read_statement(given)
    fields: dict[str, Any] = {}
    if asset is not None:
        known = memory.assets([asset])[asset]
        fields = {
            KEYS[key].field: value_of(key, value)
            for key, value in known.values.items()
            if key in KEYS and KEYS[key].part == "asset" and value is not None
        }
    fields |= {KEYS[key].field: value for key, value in read.stated.items() if KEYS[key].part == "asset"}
    capacitance, source = read.stated.get("capacitance"), "as stated"
    exponent = None
    if asset is not None:
        measured, day, exponent = _before(memory, asset)
        if capacitance is None and measured is not None:
            capacitance, source = measured, f"measured {day}"
    made = plan(
        Asset(**fields),
        purpose=read.stated.get("purpose"),
        methods=tuple(methods),
        hazardous_area=read.stated.get("hazardous_area"),
        gas_free_certificate=read.stated.get("gas_free_certificate"),
        capacitance=capacitance,
        capacitance_source=source,
        current_limit=read.stated.get("current_limit"),
        absorption_exponent=exponent,
        rules=rules,
    )
    return Planned(made, asset, made.asset.title, given)


def _before(memory: StoreMemory, asset: str) -> tuple[float | None, str, float | None]:
    """Return capacitance [F] of the newest test that has one, its day, and the absorption exponent likewise."""
    capacitance, day, exponent = None, "", None
    for past in memory.history(asset):
        figures = past.figures
        if "capacitance" in figures:
            capacitance, day = figures["capacitance"]["value"], past.day or "before"
        if "absorption_exponent" in figures:
            exponent = figures["absorption_exponent"]["value"]
    return capacitance, day, exponent


def begin_sheet(
    memory: StoreMemory, planned: Planned, chosen: Iterable[int] = (), ticks: Mapping[str, Any] | None = None
) -> str:
    """Begin the sheet of a plan and return its id.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    planned : Planned
        The plan.
    chosen : iterable of int
        Places of its connections; all where empty.
    ticks : mapping, optional
        What was ticked off already.

    Raises
    ------
    UsageError
        If nothing is planned.
    """
    fields = {
        "title": planned.title,
        "plate": dict(planned.typed),
        "methods": [entry.method.id for entry in planned.plan.methods],
        "sheets": [sheet.as_json() for sheet in sheets_of(planned.plan, chosen)],
        "header": {"tested_by": memory.person},
        "ticks": dict(ticks or {}),
    }
    return begin_draft(memory, planned.asset, fields)


def standing(draft: KeptDraft) -> tuple[Progress, ...]:
    """Return where each sheet of a visit stands."""
    sheets = [sheet_of(kept) for kept in draft.fields["sheets"]]
    return progress(sheets, ((row.number, row.fields) for row in draft.rows))


def header_checked(typed: Mapping[str, str]) -> dict[str, str]:
    """Return conditions, instrument and people as typed, once each was read without a fault.

    Raises
    ------
    InputError
        If one cannot be read; holds every fault.
    UsageError
        If a key is none of a sheet's.
    """
    given = {key: " ".join(text.split()) for key, text in typed.items()}
    for key in given:
        if key not in HEADER:
            raise UsageError(f"A sheet does not ask for {key[:60]!r}. Allowed: {', '.join(HEADER)}.")
    kept = {key: text for key, text in given.items() if text}
    read_statement(kept)
    return given


def files_of(draft: KeptDraft) -> list[Incoming]:
    """Return the sheets that were read as files of records, each read back with every check of the reader.

    Raises
    ------
    InputError
        If a file does not read back; holds every fault.
    UsageError
        If no sheet holds a reading, or voltage is still on.
    """
    stands = standing(draft)
    live = next((one for one in stands if one.state == "live"), None)
    if live is not None:
        raise UsageError(
            f"Voltage is on {live.sheet.title} by this sheet. Stop and earth it, then keep the readings."
        )
    done = [one for one in stands if one.readings]
    if not done:
        raise UsageError("There is nothing to keep: no reading was taken. Take one, or put the sheet away.")
    found = []
    for place, stand in enumerate(done, start=1):
        at = datetime.fromtimestamp((stand.started or draft.begun) / MICROSECONDS, UTC).astimezone()
        made = written(stand, draft.fields["header"], at)
        data = schedule_text(made.values, made.rows, made.columns).encode()
        name = f"sheet-{draft.id[:8]}-{place}.csv"
        found.append(Incoming(name, data, read_bytes(data, name)))
    return found


def keep_sheet(memory: StoreMemory, draft: KeptDraft, rules: Rules) -> Intake:
    """Receive a sheet as tests, on the same way as files; the sheet is put away once they are kept.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    draft : KeptDraft
        The sheet.
    rules : Rules
        What judges.

    Returns
    -------
    Intake
        With one file for each section; nothing is kept where one of them is refused.
    """
    files = files_of(draft)
    tried = take_in(memory, files, rules, dry_run=True)
    if tried.count("refused"):
        return tried
    taken = take_in(memory, files, rules)
    remove_draft(memory, draft.id)
    return taken


def draft_title(memory: StoreMemory, draft: KeptDraft) -> str:
    """Return what the asset of a sheet is called now."""
    known = memory.assets([draft.asset]).get(draft.asset) if draft.asset else None
    return title_of(known.values) if known is not None else str(draft.fields["title"])
