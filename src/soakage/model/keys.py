"""Every key of the record file: its group, kind, allowed words and meaning.

The reader, the writer, the command-line options, the JSON Schema and the documentation are all
made from this one table.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What sort of value a key holds."""

    TEXT = "text"
    WORD = "word"  # one of a closed list
    NUMBER = "number"  # a number with a unit of the key's dimension
    YEAR = "year"
    DATE = "date"
    WHEN = "when"  # a date-time, or a date alone
    LIST = "list"  # of names
    NUMBERS = "numbers"  # a table name -> number, or a list in the order of the terminals
    STEPS = "steps"
    ACCURACY = "accuracy"
    VOLTAGE_FOUND = "voltage-found"
    PREVIOUS_TEST = "previous-test"


@dataclass(frozen=True, slots=True)
class Key:
    """One key of the record file.

    Parameters
    ----------
    name : str
        As written in the file.
    part : str
        Which value of :mod:`soakage.model` holds it: asset, paper, conditions, test or instrument.
    kind : Kind
        What sort of value it takes.
    meaning : str
        One sentence for forms, help and documentation.
    dimension : str
        For numbers, the dimension word of :mod:`soakage.units`.
    words : tuple of str
        For closed lists, the words allowed; those of the method are the ids in :mod:`soakage.methods`.
    attribute : str
        Name inside the model where it differs from the key.
    """

    name: str
    part: str
    kind: Kind
    meaning: str
    dimension: str = ""
    words: tuple[str, ...] = ()
    attribute: str = ""

    @property
    def field(self) -> str:
        """Name of the model's field that holds this key."""
        return self.attribute or self.name


CLASSES = (
    "rotating-machine", "transformer", "cable", "switchgear", "low-voltage-installation", "apparatus",
)  # fmt: skip
PURPOSES = ("acceptance", "maintenance", "after-repair", "after-fault", "drying")
THERMAL_CLASSES = ("105", "120", "130", "155", "180", "200", "220", "250")
YES_NO = ("yes", "no")

_TEXT, _WORD, _NUMBER, _LIST = Kind.TEXT, Kind.WORD, Kind.NUMBER, Kind.LIST

_TABLE = (
    # identity and paper
    Key("permit", "paper", _TEXT, "Permit to work under which the test is made."),
    Key("gas_free_certificate", "paper", _TEXT, "Certificate that no explosive atmosphere is present."),
    Key("hazardous_area", "paper", _WORD, "Whether the place is a hazardous area.", words=YES_NO),
    Key("report_number", "paper", _TEXT, "Number the report carries."),
    Key("revision", "paper", _TEXT, "Revision of the report."),
    Key("revision_reason", "paper", _TEXT, "Why the report was revised."),
    Key("licence_number", "paper", _TEXT, "Licence number of the approver."),
    Key("work_order", "paper", _TEXT, "Work order."),
    Key("visit", "paper", _TEXT, "Name of the visit; records of one asset and visit are reported together."),
    Key("tested_by", "paper", _TEXT, "Who made the test."),
    Key("witnessed_by", "paper", _TEXT, "Who witnessed it."),
    Key("approved_by", "paper", _TEXT, "Who reviewed it; until given the report is a draft."),
    Key("notes", "paper", _TEXT, "Remarks."),
    Key("purpose", "paper", _WORD, "Why the test is made.", words=PURPOSES),
    Key("site", "asset", _TEXT, "Site or plant."),
    Key("asset", "asset", _TEXT, "Name of the asset.", attribute="name"),
    Key("tag", "asset", _TEXT, "Plant tag of the asset."),
    Key("serial", "asset", _TEXT, "Serial number of the asset."),
    Key("section", "asset", _TEXT, "Section of the asset: a phase, a winding, a core."),
    # nameplate
    Key("class", "asset", _WORD, "Class of the asset.", words=CLASSES, attribute="asset_class"),
    Key("rated_voltage", "asset", _NUMBER, "Rated voltage, line to line for three phases.", "voltage"),
    Key("rated_power", "asset", _NUMBER, "Rated power.", "power"),
    Key("insulation", "asset", _TEXT, "Insulation: thermosetting, thermoplastic, or the trade's word for it."),
    Key("year", "asset", Kind.YEAR, "Year the present insulation was made; a rewind resets it."),
    Key("terminals", "asset", _LIST, "All terminals of the asset, frame or tank included."),
    Key("winding", "asset", _WORD, "Kind of winding.",
        words=("form-wound", "random-wound", "field", "armature")),
    Key("current", "asset", _WORD, "Kind of machine, alternating or direct current.", words=("ac", "dc"),
        attribute="machine_current"),
    Key("thermal_class", "asset", _WORD, "Thermal class (letters A, E, B, F, H are read too).",
        words=THERMAL_CLASSES),
    Key("neutral", "asset", _WORD, "Whether the star point was opened for the test.",
        words=("opened", "closed")),
    Key("cooling", "asset", _TEXT, "Cooling of the winding, for example air, or water with undried passages."),
    Key("filling", "asset", _WORD, "Filling of the transformer or apparatus.", words=("oil", "ester", "dry")),
    Key("connection", "asset", _TEXT, "Connection of the windings, for example Dyn11."),
    Key("winding_voltages", "asset", Kind.NUMBERS, "Rated voltage of each winding.", "voltage"),
    Key("winding_powers", "asset", Kind.NUMBERS, "Rated power of each winding.", "power"),
    Key("length", "asset", _NUMBER, "Length of the cable.", "length"),
    Key("conductor_diameter", "asset", _NUMBER, "Diameter under the insulation.", "length"),
    Key("insulation_diameter", "asset", _NUMBER, "Diameter over the insulation.", "length"),
    Key("cores", "asset", _LIST, "Names of the cores."),
    Key("sheath_thickness", "asset", _NUMBER, "Specified thickness of the oversheath.", "length"),
    Key("in_service_since", "asset", Kind.WHEN, "Date the cable went into service."),
    Key("nominal_voltage", "asset", _NUMBER, "Nominal voltage of the circuit.", "voltage"),
    Key("circuit", "asset", _TEXT, "Circuit of a low-voltage installation."),
    Key("between", "asset", _TEXT, "Conductors the reading stands between, for example L-PE."),
    # conditions
    Key("winding_temperature", "conditions", _NUMBER, "Temperature of the insulation under test.",
        "temperature"),
    Key("insulation_temperature", "conditions", _NUMBER, "Temperature of the insulation under test.",
        "temperature", attribute="winding_temperature"),
    Key("temperature_uncertainty", "conditions", _NUMBER, "Standard uncertainty of that temperature.",
        "temperature_difference"),
    Key("temperature_method", "conditions", _TEXT, "How that temperature was found."),
    Key("ambient_temperature", "conditions", _NUMBER, "Temperature of the air.", "temperature"),
    Key("relative_humidity", "conditions", _NUMBER, "Relative humidity of the air.", "humidity"),
    Key("surface", "conditions", _WORD, "State of the surfaces.", words=("dry", "damp", "wet")),
    Key("hours_out_of_service", "conditions", _NUMBER, "Time out of service before the test; bare: hours.",
        "time"),
    Key("attached", "conditions", _LIST, "Equipment left connected: cables, surge capacitors, arresters."),
    # test
    Key("method", "test", _WORD, "Method of the test."),
    Key("test_voltage", "test", _NUMBER, "Direct voltage set for the test.", "voltage"),
    Key("started", "test", Kind.WHEN, "When voltage was applied."),
    Key("tested", "test", _LIST, "Terminals that were live."),
    Key("earthed", "test", _LIST, "Terminals that were earthed."),
    Key("guarded", "test", _LIST, "Terminals on guard."),
    Key("polarity", "test", _WORD, "Polarity of the live terminals.", words=("negative", "positive")),
    Key("steps", "test", Kind.STEPS, "Edges of the voltage steps."),
    Key("hold", "test", _NUMBER, "Hold of each step, for rows without times.", "time"),
    Key("ramp_rate", "test", _NUMBER, "Ramp rate as set.", "ramp_rate"),
    Key("capacitance", "test", _NUMBER, "Capacitance of the insulation under test, where known.",
        "capacitance"),
    Key("discharge_started", "test", _NUMBER, "Time at which the short circuit began.", "time"),
    Key("voltage_found", "test", Kind.VOLTAGE_FOUND, "Voltage found on the terminals before the test."),
    Key("ended", "test", _WORD, "How the test ended.",
        words=("complete", "stopped", "tripped", "breakdown", "flashover")),
    Key("ended_at", "test", _NUMBER, "Time at which it ended.", "time"),
    Key("ended_voltage", "test", _NUMBER, "Voltage at which it ended.", "voltage"),
    Key("previous_test", "test", Kind.PREVIOUS_TEST, "The test before this one on the same insulation."),
    # instrument
    Key("instrument", "instrument", _TEXT, "Instrument.", attribute="name"),
    Key("instrument_serial", "instrument", _TEXT, "Serial number of the instrument.", attribute="serial"),
    Key("calibration_due", "instrument", Kind.DATE, "Date the calibration runs out."),
    Key("current_limit", "instrument", _NUMBER, "Current the instrument can deliver.", "current"),
    Key("accuracy", "instrument", Kind.ACCURACY, "Accuracy of the instrument, one row per range."),
)  # fmt: skip

KEYS: dict[str, Key] = {key.name: key for key in _TABLE}

THERMAL_LETTERS = {
    "A": "105", "E": "120", "B": "130", "F": "155", "H": "180", "N": "200", "R": "220", "C": "220",
}  # fmt: skip

THERMOSETTING_WORDS = (
    "thermosetting", "thermoset", "epoxy", "epoxy-mica", "mica-epoxy", "polyester", "polyester-mica",
    "vpi", "vacuum-pressure-impregnated", "resin-rich", "silicone",
)  # fmt: skip
THERMOPLASTIC_WORDS = (
    "thermoplastic", "asphalt", "asphalt-mica", "asphaltic", "bitumen", "shellac", "shellac-mica",
    "shellac mica-folium", "mica-folium", "varnished cambric", "cambric",
)  # fmt: skip


def insulation_family(word: str) -> str | None:
    """Return thermosetting or thermoplastic for a trade word, or None where it names neither.

    Parameters
    ----------
    word : str
        What the nameplate or the engineer calls the insulation.

    Returns
    -------
    str or None
        The family, which picks the temperature rule of a machine.

    References
    ----------
    common practice, no source.
    """
    plain = " ".join(word.lower().replace("_", "-").split())
    for family, words in (("thermosetting", THERMOSETTING_WORDS), ("thermoplastic", THERMOPLASTIC_WORDS)):
        if plain in words or plain.replace(" ", "-") in words:
            return family
    return None
