"""The units Soakage knows: every spelling it reads, what each is in SI, and how each dimension is written.

A spelling that is not here is refused, never guessed. Prefixes keep their case (``m`` is milli, ``M``
mega), ``K`` is also taken for kilo; unit names written out are read in any case. Prefixes and symbols:
SI Brochure, 9th edition (from memory); foot, inch and mechanical horsepower: NIST SP 811, appendix B
(from memory). That a bare ``G`` behind a resistance means gigohm is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from functools import lru_cache

from soakage.errors import QuantityError, UsageError
from soakage.numerals import EXACT, POWERS


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of the table: ``SI = figure * scale + offset``.

    Parameters
    ----------
    symbol : str
        Canonical symbol, e.g. ``MΩ``.
    dimension : str
        One of :data:`DIMENSIONS`.
    factor, shift : Decimal
        Scale and offset to SI, exact to 60 digits.
    """

    symbol: str
    dimension: str
    factor: Decimal = field(repr=False)
    shift: Decimal = field(repr=False, default=Decimal(0))
    scale: float = field(init=False)
    offset: float = field(init=False)
    # "e-6" where SI is the figure shifted by a power of ten: then reading is one correctly rounded float().
    suffix: str | None = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "scale", float(self.factor))
        object.__setattr__(self, "offset", float(self.shift))
        power = not self.shift and self.factor.normalize().as_tuple().digits == (1,)
        object.__setattr__(self, "suffix", f"e{self.factor.adjusted()}" if power else None)


@dataclass(frozen=True, slots=True)
class _Family:
    """One unit, its spellings, and the prefixes it is read with."""

    dimension: str
    symbol: str
    spellings: str = ""
    words: str = ""
    prefixes: str = ""
    factor: Decimal = Decimal(1)
    shift: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class _Style:
    """How a dimension is written: symbol, prefixes, the exact size of the symbol, habit."""

    symbol: str
    prefixes: str = ""
    factor: Decimal = Decimal(1)
    shift: Decimal = Decimal(0)
    prefix: str | None = None
    trim: bool = False
    example: str = ""


_PREFIX_WORDS = {
    "femto": "f", "pico": "p", "nano": "n", "micro": "u", "milli": "m", "centi": "c",
    "kilo": "k", "mega": "M", "giga": "G", "tera": "T",
}  # fmt: skip
_FOOT, _INCH = Decimal("0.3048"), Decimal("0.0254")
MINUTE, HOUR, _HORSEPOWER = Decimal(60), Decimal(3600), Decimal("745.69987158227022")
_ICE = Decimal("273.15")
_FAHRENHEIT = EXACT.divide(Decimal(5), Decimal(9))
_FAHRENHEIT_ZERO = EXACT.multiply(Decimal("459.67"), _FAHRENHEIT)
_CENT = Decimal("0.01")
_CELSIUS = "c °c degc degreec degreesc celsius"
_PERCENT_WORDS = "percent percents /cent"
_FAMILIES = (
    _Family("voltage", "V", "V v Vdc VDC", "volt volts", "numkMG"),
    _Family("current", "A", "A a", "amp amps ampere amperes", "fpnumk"),
    _Family("resistance", "Ω", "Ω ohm Ohm OHM ohms Ohms OHMS", "ohm ohms", "numkMGT"),
    _Family("capacitance", "F", "F", "farad farads", "fpnum"),
    _Family("time", "s", "s", "s sec secs second seconds", "num"),
    _Family("time", "min", "m", "min mins minute minutes", factor=MINUTE),
    _Family("time", "h", "", "h hr hrs hour hours", factor=HOUR),
    _Family("temperature", "K", "", "k °k degk kelvin kelvins"),
    _Family("temperature", "°C", "", _CELSIUS, shift=_ICE),
    _Family(
        "temperature", "°F", "", "f °f degf degreef degreesf fahrenheit", "", _FAHRENHEIT, _FAHRENHEIT_ZERO
    ),
    _Family("temperature_difference", "K", "", f"k kelvin kelvins {_CELSIUS}"),
    _Family("temperature_difference", "°F", "", "f °f degf fahrenheit", factor=_FAHRENHEIT),
    _Family("humidity", "%", "%", f"%rh rh% {_PERCENT_WORDS}", factor=_CENT),
    _Family("fraction", "%", "%", _PERCENT_WORDS, factor=_CENT),
    _Family("fraction", "1", "1"),
    _Family("power", "W", "W w", "watt watts", "umkMG"),
    _Family("power", "VA", "VA va Va", "voltampere voltamperes", "mkMG"),
    _Family("power", "hp", "", "hp horsepower", factor=_HORSEPOWER),
    _Family("energy", "J", "J", "joule joules", "numkMG"),
    _Family("energy", "Wh", "Wh", "watthour watthours", "mkMG", HOUR),
    _Family("charge", "C", "C", "coulomb coulombs", "fpnumkM"),
    _Family("charge", "Ah", "Ah", "amperehour amperehours", "mk", HOUR),
    _Family("length", "m", "m", "metre metres meter meters", "numck"),
    _Family("length", "ft", "ft", "ft foot feet", "k", _FOOT),
    _Family("length", "in", "", "in inch inches", factor=_INCH),
    _Family("frequency", "Hz", "Hz hz HZ", "hertz", "mkMG"),
    _Family("conductance", "S", "S", "siemens mho mhos", "fpnumk"),
    _Family("ratio", "", "1"),
    _Family("ratio", "%", "%", _PERCENT_WORDS, factor=_CENT),
    _Family("number", "", "1"),
    _Family("count", "", "1"),
)
BARE_PREFIXES = {"resistance": tuple("kKMGT"), "voltage": tuple("kK")}
BARE_IS = {"time": "s", "ratio": "", "number": "", "count": ""}

STYLES = {
    "voltage": _Style("V", "numkMG", example="5 kV"),
    "current": _Style("A", "fpnumk", example="12.5 nA"),
    "resistance": _Style("Ω", "numkMGT", example="2.5 GOhm"),
    "capacitance": _Style("F", "fpnum", example="250 nF"),
    "time": _Style("s", trim=True, example="90 s, 10 min, 1:30"),
    "temperature": _Style("°C", shift=_ICE, trim=True, example="27.5 degC"),
    "temperature_difference": _Style("K", trim=True, example="10 K"),
    "humidity": _Style("%", "", _CENT, trim=True, example="55 %"),
    "fraction": _Style("%", "", _CENT, trim=True, example="5 %"),
    "power": _Style("W", "umkMG", example="2.5 MW, 3 MVA, 40 hp"),
    "energy": _Style("J", "numkMG", example="12 J"),
    "charge": _Style("C", "fpnumkM", example="15 uC"),
    "length": _Style("m", "numk", example="1.2 km"),
    "frequency": _Style("Hz", "mkMG", example="50 Hz"),
    "conductance": _Style("S", "fpnumk", example="4 nS"),
    "ratio": _Style("", example="2.15"),
    "number": _Style("", trim=True, example="12.5"),
    "count": _Style("", trim=True, example="3"),
    "ramp_rate": _Style("V/min", "umkMG", EXACT.divide(Decimal(1), MINUTE), example="1 kV/min"),
    "dielectric_discharge": _Style("A/(V F)", "pnumk", prefix="m", example="1.85 mA/(V F)"),
    "resistivity": _Style("Ω m", "mkMGT", example="1 TOhm m"),
    "resistance_length": _Style("Ω km", "mkMGT", Decimal(1000), example="100 MOhm km"),
}
DIMENSIONS = tuple(STYLES)

SPACES = "\t\u00a0\u2002\u2003\u2007\u2008\u2009\u200a\u202f\u3000"
_FOLD = str.maketrans(
    dict.fromkeys(SPACES + " .·⋅•∙*×-\u2212\u2010\u2011\u2013")
    | {"µ": "u", "μ": "u", "\u2126": "Ω", "º": "°", "˚": "°", "℃": "°C", "℉": "°F"}
)


def _tables() -> tuple[dict[str, dict[str, Unit]], dict[str, dict[str, Unit]], dict[str, Unit]]:
    """Return per dimension the spellings that keep their case and those that don't, and all own symbols."""
    exact: dict[str, dict[str, Unit]] = {dimension: {} for dimension in DIMENSIONS}
    loose: dict[str, dict[str, Unit]] = {dimension: {} for dimension in DIMENSIONS}
    symbols: dict[str, Unit] = {}
    names = {prefix: word for word, prefix in _PREFIX_WORDS.items()} | {"": ""}
    for family in _FAMILIES:
        for prefix in ("", *family.prefixes):
            symbol = prefix.replace("u", "µ") + family.symbol
            made = Unit(symbol, family.dimension, family.factor.scaleb(POWERS[prefix]), family.shift)
            symbols.setdefault(prefix + family.symbol, made)
            for spelling in (family.symbol, *family.spellings.split()):
                for letter in "kK" if prefix == "k" else (prefix,):
                    exact[family.dimension].setdefault(letter + spelling, made)
            for word in family.words.split():
                loose[family.dimension].setdefault(names[prefix] + word, made)
                if family.symbol == "Ω" and prefix:  # kilohm, megohm, gigohm: the vowel is dropped
                    loose[family.dimension].setdefault(names[prefix][:-1] + word, made)
    loose["resistance"]["meg"] = loose["resistance"]["megs"] = exact["resistance"]["MΩ"]
    for lower in ("uf", "nf", "pf"):
        exact["capacitance"][lower] = exact["capacitance"][lower[0] + "F"]
    exact["length"]["1000ft"] = exact["length"]["kft"]
    return exact, loose, symbols


EXACTLY, _LOOSELY, _SYMBOLS = _tables()


@lru_cache(maxsize=4096)
def find(symbol: str, dimension: str) -> Unit | None:
    """Return the unit of this spelling, or None."""
    text = symbol.replace(" per ", "/").translate(_FOLD)
    found = EXACTLY[dimension].get(text) or _LOOSELY[dimension].get(text.lower())
    if found is not None:
        return found
    if dimension in ("resistivity", "resistance_length"):
        for ending in ("1000ft", "kft", "km", "cm", "mm", "ft", "m"):
            if text.endswith(ending) and (ohms := find(text[: -len(ending)], "resistance")):
                length = EXACTLY["length"].get(ending) or Unit("mm", "length", Decimal("0.001"))
                return Unit(f"{ohms.symbol} {ending}", dimension, EXACT.multiply(ohms.factor, length.factor))
    left, stroke, right = text.partition("/")
    if stroke and dimension == "ramp_rate":
        volts, time = find(left, "voltage"), find(right, "time")
        if volts and time:
            return Unit(f"{volts.symbol}/{time.symbol}", dimension, EXACT.divide(volts.factor, time.factor))
    if stroke and dimension == "dielectric_discharge":
        below = right.strip("()").replace("/", "")
        amps, farads = find(left, "current"), find(below[1:], "capacitance") if below[:1] == "V" else None
        if amps and farads:
            return Unit(
                f"{amps.symbol}/(V {farads.symbol})", dimension, EXACT.divide(amps.factor, farads.factor)
            )
    return None


def allowed(dimension: str) -> str:
    """Say what a figure of the dimension looks like, for messages."""
    return f"a {dimension.replace('_', ' ')}, such as {STYLES[dimension].example}"


def check_dimension(dimension: str) -> None:
    """Raise UsageError unless the table knows the dimension."""
    if dimension not in STYLES:
        raise UsageError(f"Unknown dimension. Given: {dimension}. Allowed: {', '.join(DIMENSIONS)}.")


def mega_slip(symbol: str, dimension: str) -> tuple[str, str] | None:
    """Return both readings of a mega or more that nobody has of this dimension (``MA``, ``MF``)."""
    name, meant = {"current": ("ampere", "mA"), "capacitance": ("farad", "µF or mF")}.get(dimension, ("", ""))
    text = symbol.translate(_FOLD)
    if name and len(text) == 2 and text[0] in "MGT" and text[1].lower() == name[0]:
        return {"M": "mega", "G": "giga", "T": "tera"}[text[0]] + name, meant
    return None


def unit(symbol: str, dimension: str | None = None) -> Unit:
    """Look up a unit by any spelling the table knows.

    Parameters
    ----------
    symbol : str
        E.g. ``uA``, ``MΩ``, ``megohms``, ``degC``, ``kV/min``; empty for a plain number.
    dimension : str or None
        What it must measure; None takes the dimension whose own symbol it is, else the first that knows it.

    Returns
    -------
    Unit
        With ``scale`` and ``offset`` to SI.

    Raises
    ------
    QuantityError
        If the table does not know it, or it measures something else.
    """
    if dimension is not None:
        check_dimension(dimension)
        if found := find(symbol, dimension):
            return found
    elsewhere = _SYMBOLS.get(symbol.translate(_FOLD)) or next(
        filter(None, (find(symbol, d) for d in DIMENSIONS)), None
    )
    if dimension is None:
        if elsewhere is None:
            raise QuantityError(
                symbol, "Unit not known.", "a unit such as V, uA, MOhm, s, degC", "Check its spelling."
            )
        return elsewhere
    if elsewhere is not None:
        problem = (
            f"{symbol} measures {elsewhere.dimension.replace('_', ' ')}, not {dimension.replace('_', ' ')}."
        )
    elif slip := mega_slip(symbol, dimension):
        problem = f"{symbol} can be read as {slip[0]} or as {slip[1]}."
    else:
        problem = f"Unit {symbol} not known." if symbol else "Unit missing."
    raise QuantityError(symbol, problem, allowed(dimension), "Give the unit; mind its case.")


def kelvin(degC: float) -> float:  # noqa: N803
    """Return the thermodynamic temperature [K] of a Celsius temperature [°C]."""
    return degC + 273.15


def celsius(kelvin: float) -> float:
    """Return the Celsius temperature [°C] of a thermodynamic temperature [K]."""
    return kelvin - 273.15
