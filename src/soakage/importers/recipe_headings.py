"""What the headings of people's own tables say: units and time marks in them, words and what they name."""

from __future__ import annotations

import re
from dataclasses import dataclass

from soakage.errors import QuantityError
from soakage.importers.columns import CURRENT, RESISTANCE, TIME, VOLTAGE
from soakage.importers.values import plain_key
from soakage.model.keys import KEYS
from soakage.unit_table import find
from soakage.units import parse

_BRACKETS = re.compile(r"[\[(]([^\])]{1,40})[\])]")
_MARK = re.compile(
    r"(?<![\d.,])(\d{1,5}(?:[.,]\d)?) *[-_ ]?"
    r"(s|sec|secs|seconds?|sek|min|mins|minutes?|minuten?|sekunden?|m|h|hours?)(?![\w/²³])",
    re.IGNORECASE,
)
_MINUTE_WORDS = {"m", "min", "mins", "minute", "minutes", "minuten"}
_RATIO_MARKS = re.compile(r"(\d{1,5}) *(s|min)? */ *r? *(\d{1,5}) *(s|min)?")
_PRIMES = str.maketrans({"'": " min ", "\u2032": " min ", '"': " s ", "\u2033": " s "})
_BARE_MARK = re.compile(r"(?:r|ir|riso)[-_ ]?(\d{1,3})", re.IGNORECASE)
_WORD = re.compile(r"[^\W\d_]+|%")
# corrected to a stated temperature, or otherwise worked out: never taken for a reading
_WORKED_OUT = re.compile(
    r"corr|korr|@ *-?\d+ *°?c|\b(?:at|to|bei|auf) *-?\d+ *°? *c\b|\b[tr](?:20|40|75)\b"
    r"|normali[sz]ed|umgerechnet|limit|grenzwert"
    r"|\bmin(?:imum)?[. ]*(?:req|allow|value)|trend|previous|vorher",
    re.IGNORECASE,
)

READING_WORDS: dict[str, str] = {
    "time": TIME, "elapsed": TIME, "t": TIME, "mark": TIME, "zeit": TIME, "messzeit": TIME, "dauer": TIME,
    "voltage": VOLTAGE, "volts": VOLTAGE, "u": VOLTAGE, "v": VOLTAGE, "spannung": VOLTAGE,
    "current": CURRENT, "i": CURRENT, "leakage": CURRENT, "strom": CURRENT, "ableitstrom": CURRENT,
    "resistance": RESISTANCE, "r": RESISTANCE, "ir": RESISTANCE, "riso": RESISTANCE, "insulation": RESISTANCE,
    "widerstand": RESISTANCE, "isolationswiderstand": RESISTANCE, "megohm": RESISTANCE, "megohms": RESISTANCE,
    "reading": RESISTANCE, "value": RESISTANCE, "messwert": RESISTANCE, "wert": RESISTANCE, "meg": RESISTANCE,
    "mohm": RESISTANCE, "gohm": RESISTANCE,
}  # fmt: skip
KEY_PHRASES: tuple[tuple[str, str], ...] = (
    ("ambient temperature", "ambient_temperature"), ("air temperature", "ambient_temperature"),
    ("umgebungstemperatur", "ambient_temperature"), ("raumtemperatur", "ambient_temperature"),
    ("ambient", "ambient_temperature"), ("winding temperature", "winding_temperature"),
    ("wicklungstemperatur", "winding_temperature"), ("insulation temperature", "insulation_temperature"),
    ("oil temperature", "insulation_temperature"), ("temperatur", "winding_temperature"),
    ("temp", "winding_temperature"), ("relative humidity", "relative_humidity"),
    ("humidity", "relative_humidity"), ("luftfeuchte", "relative_humidity"),
    ("feuchte", "relative_humidity"), ("rh", "relative_humidity"),
    ("test voltage", "test_voltage"), ("prüfspannung", "test_voltage"), ("messspannung", "test_voltage"),
    ("applied voltage", "test_voltage"), ("rated voltage", "rated_voltage"),
    ("nennspannung", "rated_voltage"), ("bemessungsspannung", "rated_voltage"),
    ("nominal voltage", "nominal_voltage"), ("rated power", "rated_power"),
    ("test date", "started"), ("date", "started"), ("datum", "started"), ("started", "started"),
    ("tested on", "started"), ("uhrzeit", "started"), ("time of day", "started"),
    ("serial number", "serial"), ("serial no", "serial"), ("seriennummer", "serial"), ("serial", "serial"),
    ("asset tag", "tag"), ("tag", "tag"), ("kennzeichen", "tag"),
    ("phase", "section"), ("winding", "section"), ("section", "section"), ("wicklung", "section"),
    ("terminals", "section"), ("core", "section"), ("ader", "section"),
    ("asset", "asset"), ("equipment", "asset"), ("machine", "asset"), ("motor", "asset"),
    ("anlage", "asset"), ("betriebsmittel", "asset"), ("gerät", "asset"), ("maschine", "asset"),
    ("objekt", "asset"), ("cable", "asset"), ("transformer", "asset"),
    ("site", "site"), ("plant", "site"), ("station", "site"), ("standort", "site"), ("werk", "site"),
    ("tested by", "tested_by"), ("tester", "tested_by"), ("prüfer", "tested_by"), ("initials", "tested_by"),
    ("engineer", "tested_by"), ("instrument serial", "instrument_serial"), ("instrument", "instrument"),
    ("messgerät", "instrument"), ("work order", "work_order"), ("auftrag", "work_order"),
    ("remarks", "notes"), ("remark", "notes"), ("notes", "notes"), ("note", "notes"),
    ("comments", "notes"), ("comment", "notes"), ("bemerkung", "notes"), ("bemerkungen", "notes"),
    ("insulation class", "thermal_class"), ("thermal class", "thermal_class"), ("class", "class"),
    ("year", "year"), ("baujahr", "year"), ("polarity", "polarity"), ("purpose", "purpose"),
    ("circuit", "circuit"), ("stromkreis", "circuit"), ("between", "between"), ("method", "method"),
)  # fmt: skip
# which voltage a figure in volts or kilovolts is, where the heading leaves the word voltage out: Rated kV
_WHICH_VOLTAGE = {
    "rated": "rated_voltage", "nenn": "rated_voltage", "nominal": "nominal_voltage", "test": "test_voltage",
    "applied": "test_voltage", "prüf": "test_voltage",
}  # fmt: skip
_RATIO_WORDS = {
    "pi": "600 s/60 s", "polarization index": "600 s/60 s", "polarisation index": "600 s/60 s",
    "polarisationsindex": "600 s/60 s", "dar": "60 s/30 s", "dielectric absorption ratio": "60 s/30 s",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a heading names: one of key, reading and ratio; a mark with a reading; or worked out, not read."""

    key: str = ""
    reading: str = ""
    at: str = ""
    ratio: str = ""
    worked_out: bool = False
    sure: bool = True


def plain(heading: str) -> str:
    """Return a heading in lower case, its blanks and underscores as single blanks."""
    return " ".join(heading.replace("_", " ").split()).lower()


def unit_in(heading: str, dimension: str) -> str:
    """Return the one unit of a dimension that a heading states, as written; empty where it states none.

    Parameters
    ----------
    heading : str
        ``R60s (MΩ)``, ``U / kV``, ``Temp. °C``; of a line of units the unit alone, in brackets or not.
    dimension : str
        Dimension word of :mod:`soakage.units`.
    """
    bracketed = [text.strip() for text in _BRACKETS.findall(heading)]
    bare = _BRACKETS.sub(" ", heading)
    after = [part.strip() for mark in "/," if mark in bare for part in [bare.rpartition(mark)[2]]]
    words = bare.split()
    loose = [word for word in words[1:] if len(word) > 1] + words[-1:] * (len(words) > 1)
    alone = [heading.strip()] if len(heading.strip()) > 1 else []
    for group in (bracketed, alone, after, loose):
        found = {find(text, dimension): text for text in group if text and find(text, dimension)}
        if len(found) == 1:
            return next(iter(found.values()))
    return ""


def unit_alone(cell: str, dimension: str) -> str:
    """Return the unit that a cell of a line of units holds, without brackets; empty where it is none."""
    text = cell.strip().strip("[]()").strip()
    return text if text and find(text, dimension) else ""


def mark_in(heading: str) -> str:
    """Return the one time mark in a heading, such as ``60 s``; empty where there is none, or several."""
    marks = set()
    text = _BRACKETS.sub(lambda found: f" {found[1]} ", heading).translate(_PRIMES)
    for figure, word in _MARK.findall(text):
        lower = word.lower()
        unit = "min" if lower in _MINUTE_WORDS else "h" if lower.startswith("h") else "s"
        marks.add(f"{figure.replace(',', '.')} {unit}")
    if len(marks) != 1:
        return ""
    text = marks.pop()
    try:
        parse(text, "time")
    except QuantityError:
        return ""
    return text


def ratio_in(heading: str) -> str:
    """Return the marks of the ratio a heading names, ``600 s/60 s``; empty where it names none."""
    text = plain(heading)
    without = " ".join(_WORD.findall(_BRACKETS.sub(" ", text)))
    marks = _RATIO_MARKS.search(text)
    named = _RATIO_WORDS.get(without, "")
    if marks and (named or text.startswith("r")):
        later, later_unit, earlier, earlier_unit = marks.groups()
        both = later_unit or earlier_unit or "s"
        made = f"{later} {later_unit or both}/{earlier} {earlier_unit or both}"
        return made if parse(made.partition("/")[0], "time").value > parse(
            made.partition("/")[2], "time").value else named  # fmt: skip
    return named


def meaning(heading: str) -> Meaning | None:
    """Return what a heading names, or None where no word of it is known.

    Parameters
    ----------
    heading : str
        As it stands.

    Returns
    -------
    Meaning or None
    """
    text = plain(heading)
    if not text:
        return None
    ratio = ratio_in(text)
    if ratio:
        return Meaning(ratio=ratio)
    words = _WORD.findall(text)
    mark = mark_in(heading)
    reading = _reading(text, words, heading, marked=bool(mark))
    key = _key(text) or (_which_voltage(words) if unit_in(heading, VOLTAGE) else "")
    key = "" if key == "current" else key  # in a table, the reading
    if _WORKED_OUT.search(text) and (reading or mark or unit_in(heading, RESISTANCE)):
        return Meaning(worked_out=True)
    if reading and mark and reading != TIME:
        return Meaning(reading=reading, at=mark)
    short = _BARE_MARK.fullmatch(_BRACKETS.sub(" ", text).strip())
    if short:  # R60 is said of seconds, R10 of minutes: common practice, no source
        figure = int(short[1])
        return Meaning(reading=RESISTANCE, at=f"{figure} {'min' if figure <= 10 else 's'}", sure=False)
    if key:
        return Meaning(key=key)
    if reading:
        return Meaning(
            reading=reading, sure=text.split()[0] not in ("value", "wert", "reading", "insulation")
        )
    return None


def _reading(text: str, words: list[str], heading: str, *, marked: bool) -> str:
    joined = _BRACKETS.sub(" ", text)
    known = [READING_WORDS[word] for word in _WORD.findall(joined) if word in READING_WORDS]
    for reading in (RESISTANCE, CURRENT, VOLTAGE):
        if unit_in(heading, reading):
            return reading
    if marked:
        others = [name for name in known if name != TIME]
        return others[0] if others else RESISTANCE if not _letters(joined) else ""
    if not known:
        return ""
    first = words[0] if words else ""
    if first in READING_WORDS or len(words) <= 3:
        return RESISTANCE if RESISTANCE in known and first not in ("time", "t", "zeit") else known[0]
    return ""


def _which_voltage(words: list[str]) -> str:
    return next((_WHICH_VOLTAGE[word] for word in words if word in _WHICH_VOLTAGE), "")


def _letters(text: str) -> str:
    """Return what is left of a heading without its time mark."""
    return "".join(_WORD.findall(_MARK.sub(" ", text)))


def _key(text: str) -> str:
    joined = f" {' '.join(_WORD.findall(_BRACKETS.sub(' ', text)))} "
    for phrase, key in KEY_PHRASES:
        if f" {phrase} " in joined or (len(phrase) > 7 and phrase in joined):
            return key
    if joined.strip().startswith("temp"):
        return "winding_temperature"
    return key_by_name(text)


def key_by_name(text: str) -> str:
    """Return the key whose own name a heading is, such as ``rated_voltage``; empty where it is none."""
    name = plain_key(_BRACKETS.sub(" ", text).strip())
    return name if name in KEYS else ""
