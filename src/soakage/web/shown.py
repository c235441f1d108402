"""How figures are shown to whoever looks: decimal mark and degrees, chosen in Settings, kept in the browser."""

from __future__ import annotations

from contextvars import ContextVar
from dataclasses import dataclass

from fastapi import Request

COOKIE = "soakage-shown"
DECIMALS = {".": "point, 1.5", ",": "comma, 1,5"}
DEGREES = {"C": "°C", "F": "°F"}
_ICE, _PER_KELVIN, _ZERO = 273.15, 1.8, 32.0


@dataclass(frozen=True, slots=True)
class Shown:
    """What a person chose: decimal mark, and C or F for degrees."""

    decimal: str = "."
    degrees: str = "C"

    @property
    def cookie(self) -> str:
        """What the browser keeps."""
        return f"{'comma' if self.decimal == ',' else 'point'}-{self.degrees}"


_USUAL = Shown()
_NOW: ContextVar[Shown | None] = ContextVar("shown", default=None)


def shown_of(request: Request) -> Shown:
    """Return what the browser that asks has chosen; the usual where that is nothing we know."""
    mark, _, degrees = request.cookies.get(COOKIE, "").partition("-")
    return Shown("," if mark == "comma" else ".", degrees if degrees in DEGREES else "C")


async def shown_as(request: Request) -> None:
    """Have the figures of this page shown as its reader chose; those of the API stay as they are."""
    _NOW.set(Shown() if request.url.path.startswith("/api/") else shown_of(request))


def now() -> Shown:
    """Return how figures are shown just now."""
    return _NOW.get() or _USUAL


def marked(text: str) -> str:
    """Return a written figure with the decimal mark of its reader."""
    return text.replace(".", ",") if now().decimal == "," else text


def fahrenheit(kelvin: float) -> float:
    """Return a temperature [K] in degrees Fahrenheit."""
    return (kelvin - _ICE) * _PER_KELVIN + _ZERO
