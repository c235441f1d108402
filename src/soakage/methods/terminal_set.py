"""Test method: terminal set."""

from soakage.methods.base import Mark, Method, Shape

METHOD = Method(
    id="terminal-set",
    title="Terminal set",
    purpose="One reading of a set of connections that together give every resistance between windings "
    "and to earth.",
    procedure=(
        "Make the connection named: tested, earthed and guarded terminals.",
        "Apply the voltage and read at one minute.",
        "Switch off, discharge and earth the object, then make the next connection.",
    ),
    shape=Shape.SPOT,
    classes=("rotating-machine", "transformer", "apparatus"),
    marks=(Mark(60.0, required=False),),
    quantities=(
        "insulation_resistance",
        "insulation_resistance_60s",
        "insulation_resistance_60s_corrected",
    ),
    needs=("test_voltage", "winding_temperature", "tested", "earthed"),
    chart="none",
    voltage_role="insulation-resistance",
    limits_of_use="All readings of the set must be taken at one mark, one voltage and one temperature, each "
    "after full discharge.",
    source="common practice, no source; algebra derived",
    verified="practice",
)
