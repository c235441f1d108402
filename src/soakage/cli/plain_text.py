"""Plain values of the store as text: figures with the unit of their key."""

from __future__ import annotations

from soakage.model.keys import KEYS
from soakage.units import format_quantity


def value_text(name: str, value: object) -> str:
    """Return the value of a key as a person reads it.

    Parameters
    ----------
    name : str
        Key of the record file, or a field of ours.
    value : object
        Plain value in SI.

    Returns
    -------
    str
    """
    key = KEYS.get(name)
    if key is not None and key.dimension and isinstance(value, (int, float)) and not isinstance(value, bool):
        return format_quantity(float(value), key.dimension)
    if isinstance(value, dict):
        return ", ".join(f"{part} {value_text(part, one)}" for part, one in value.items())
    if isinstance(value, list):
        return ", ".join(value_text("", one) for one in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    return str(value)
