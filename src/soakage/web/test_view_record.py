"""What was stated and read: nameplate as used, conditions, instrument, readings; what the register gave is marked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any

from soakage.app.cautions import cautions
from soakage.errors import UsageError
from soakage.methods import method
from soakage.model.keys import KEYS, Kind
from soakage.report.figures import DASH, listed
from soakage.standards.library import library
from soakage.store.memory import StoreMemory
from soakage.units import Bound, format_quantity
from soakage.web import view
from soakage.web.test_view_figures import value_of

Row = Mapping[str, Any]
_PARTS = {
    "asset": "Nameplate, as used", "test": "Test", "conditions": "Conditions", "instrument": "Instrument",
    "paper": "Papers",
}  # fmt: skip
_FROM_REGISTER = "from_register"
_MOST_ROWS = 200


def said(name: str, value: Any) -> str:  # noqa: ANN401 - a plain value of any kind
    """Return the plain value of a key of the record file as a person reads it.

    Parameters
    ----------
    name : str
        Key of the record file; an unknown one for a part of a small table.
    value : any
        As the store keeps it, in SI.
    """
    key = KEYS.get(name)
    dimension = key.dimension if key is not None else ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return format_quantity(float(value), dimension, trim=True) if dimension else f"{value:g}"
    if isinstance(value, dict):
        return ", ".join(f"{part} {_part(part, one, dimension)}" for part, one in value.items())
    if isinstance(value, list):
        names = all(isinstance(one, str) for one in value)
        return listed(value) if names else "; ".join(said(name, one) for one in value)
    return _words(str(value), key.kind if key is not None else Kind.TEXT)


def _words(text: str, kind: Kind) -> str:
    if kind is Kind.DATE:
        return view.day(date.fromisoformat(text))
    if kind is Kind.WHEN and "T" in text:
        return view.moment(datetime.fromisoformat(text))
    return text.replace("-", " ") if kind is Kind.WORD else text


_PART_DIMENSIONS = {
    "reading": "fraction", "offset": "current", "resolution": "resistance", "timing": "time", "range": "resistance",
    "voltage": "voltage", "at": "time", "held": "time", "earthed": "time", "hold": "time", "ac": "voltage",
    "dc": "voltage",
}  # fmt: skip


def _part(part: str, value: Any, dimension: str) -> str:  # noqa: ANN401 - a plain value of any kind
    known = dimension or _PART_DIMENSIONS.get(part, "")
    if isinstance(value, int | float) and known:
        return format_quantity(float(value), known, trim=True)
    return said("", value)


def label(name: str) -> str:
    """Return a key as a label."""
    words = name.replace("_", " ")
    return words[:1].upper() + words[1:]


def from_register(page: Row) -> list[str]:
    """Return the keys that the register gave when the verdict that stands was given."""
    for found in page["result"]["findings"] if page["result"] else ():
        if found["code"] == _FROM_REGISTER:
            names = found["sentence"].partition(": ")[2].rstrip(".")
            return [name.strip() for name in names.split(",")]
    return []


def stated(memory: StoreMemory, page: Row) -> list[dict[str, Any]]:
    """Return what was stated, by part, with what the register gave where the record is silent.

    Parameters
    ----------
    memory : StoreMemory
        Knows the register.
    page : mapping
        From :func:`soakage.web.test_view.found_page`.

    Returns
    -------
    list of dict
        ``name``, ``id`` and ``rows`` (label, value, whether it is from the register).
    """
    values: dict[str, tuple[Any, bool]] = {
        name: (value, False) for name, value in page["record"]["stated"].items()
    }
    if filled := from_register(page):
        register: dict[str, Any] = dict(next(iter(page["instruments"]), {}))
        if asset := page["test"]["asset_id"]:
            register |= dict(memory.assets([asset])[asset].values)
        values |= {name: (register[name], True) for name in filled if register.get(name) is not None}
    groups = []
    for part, name in _PARTS.items():
        rows = [
            {"label": label(key), "value": said(key, value), "register": given}
            for key in KEYS
            if key in values and KEYS[key].part == part
            for value, given in [values[key]]
        ]
        if part == "conditions" and page["result"] and "dew_point" in page["result"]["quantities"]:
            dew = value_of("dew_point", page["result"]["quantities"]["dew_point"])
            rows.append({"label": "Dew point, worked out", "value": str(view.of(dew)), "register": False})
        groups.append({"id": part, "name": name, "rows": rows})
    extra = [
        {"label": key, "value": str(text), "register": False} for key, text in page["record"]["extra"].items()
    ]
    groups.append({"id": "extra", "name": "Also stated", "rows": extra})
    return [group for group in groups if group["rows"]]


def readings(page: Row) -> dict[str, Any]:
    """Return the readings as a table, each so that it can be read; every so many where there are very many."""
    table = page["record"]["readings"]
    columns = [
        name
        for name in ("time", "voltage", "current", "resistance")
        if any(v is not None for v in table[name])
    ]
    sides = {1: Bound.LOWER, -1: Bound.UPPER}
    total = len(table["bound"])
    every = -(-total // _MOST_ROWS) or 1
    rows = []
    for place in range(0, total, every):
        side = sides.get(table["bound"][place])
        cells = []
        for name in columns:
            value = table[name][place]
            bound = side if name == "resistance" else None
            cells.append(
                DASH if value is None else view.quantity(value, name, bound=bound, trim=name == "time")
            )
        rows.append(cells)
    return {"heads": [label(name) for name in columns], "rows": rows, "total": total, "every": every}


def afterwards(page: Row) -> list[dict[str, str]]:
    """Return the cautions that hold after the test, the least earthing time first."""
    values, test = page["record"]["stated"], page["test"]
    quantities = page["result"]["quantities"] if page["result"] else {}
    found = []
    if earthing := quantities.get("earthing_time"):
        time = str(view.of(value_of("earthing_time", earthing)))
        found.append(
            {
                "lead": f"Minimum earthing time after this test: {time}.",
                "rest": "When it has passed: prove dead, keep earthed while you work.",
                "source": earthing["source"],
                "verified": "",
            }
        )
    try:
        made_by = method(test["method"])
    except UsageError:
        return found
    capacitance = quantities.get("capacitance", {}).get("value", values.get("capacitance"))
    told = cautions(
        values.get("class"), made_by, overvoltage=made_by.voltage_role == "overvoltage",
        hazardous_area=values.get("hazardous_area"), library=library(), capacitance=capacitance,
        test_voltage=test["test_voltage"],
    )  # fmt: skip
    after = (one for one in told if one.step == "after")
    return [
        *found,
        *({"lead": o.lead, "rest": o.rest, "source": o.source, "verified": o.verified} for o in after),
    ]


def photos(attachments: Iterable[Row]) -> list[Row]:
    """Return the attachments that are shown as pictures."""
    return [one for one in attachments if one.get("media_type") in PICTURES]


PICTURES = ("image/jpeg", "image/png", "image/webp", "image/gif")
