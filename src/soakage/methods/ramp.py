"""Test method: ramp."""

from soakage.methods.base import Method, Shape

METHOD = Method(
    id="ramp",
    title="Ramp",
    purpose="Current against a steadily rising voltage. The early part tells the capacitance, any "
    "upward bend tells a voltage-dependent fault.",
    procedure=(
        "Raise the voltage at a constant rate, usually 1 kV/min.",
        "Watch the current; stop at an abrupt rise or break in slope.",
        "Bring the voltage down, let the instrument discharge the object, then earth it.",
    ),
    shape=Shape.RAMP,
    classes=("rotating-machine", "cable"),
    marks=(),
    quantities=("apparent_capacitance",),
    needs=("test_voltage", "ramp_rate"),
    chart="ramp",
    voltage_role="overvoltage",
    limits_of_use="Voltage over current on a ramp is no resistance: most of the current charges the "
    "capacitance.",
    source="IEEE Std 95-2002 (ramped voltage)",
    verified="memory",
)
