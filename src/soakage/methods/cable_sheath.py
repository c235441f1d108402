"""Test method: cable sheath."""

from soakage.methods.base import Mark, Method, Shape

METHOD = Method(
    id="cable-sheath",
    title="Cable sheath",
    purpose="Insulation resistance of the oversheath between screen and earth. Finds damage to the sheath.",
    procedure=(
        "Lift the earth of the screen at both ends.",
        "Apply the voltage between screen and earth and read at one minute.",
        "Switch off, discharge, and restore the earths.",
    ),
    shape=Shape.SPOT,
    classes=("cable",),
    marks=(Mark(60.0, required=False),),
    quantities=("insulation_resistance_60s", "resistance_length"),
    needs=("test_voltage", "length"),
    chart="none",
    voltage_role="insulation-resistance",
    limits_of_use="Only meaningful where the sheath has a conducting layer or lies in moist soil.",
    source="common practice, no source",
    verified="practice",
)
