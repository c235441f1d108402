"""Test method: polarization index."""

from soakage.methods.base import Mark, Method, Shape

METHOD = Method(
    id="polarization-index",
    title="Polarization index",
    purpose="Resistance at ten minutes over that at one minute, at one constant voltage. Tells "
    "leakage through dirt or moisture from absorption, nearly free of temperature.",
    procedure=(
        "Apply the voltage and start the clock.",
        "Read at 15 s, 30 s, 1 min, 3 min 10 s, 5 min and 10 min; keep the voltage constant.",
        "Switch off, let the instrument discharge the object, then earth it.",
    ),
    shape=Shape.HOLD,
    classes=("rotating-machine", "transformer", "cable"),
    marks=(
        Mark(15.0, required=False),
        Mark(30.0, required=False),
        Mark(60.0),
        Mark(190.0, required=False),
        Mark(300.0, required=False),
        Mark(600.0),
    ),
    quantities=(
        "insulation_resistance_60s",
        "insulation_resistance_60s_corrected",
        "insulation_resistance_600s",
        "dielectric_absorption_ratio",
        "absorption_ratio_60_15",
        "polarization_index",
        "conduction_current",
        "absorption_exponent",
    ),
    needs=("test_voltage", "winding_temperature", "thermal_class"),
    chart="resistance",
    voltage_role="insulation-resistance",
    limits_of_use="Above 5 GΩ at 40 °C the index is ambiguous. A machine that cools during the test reads "
    "falsely high. An index alone does not fail a liquid-filled transformer.",
    source="IEEE Std 43-2013, cl. 5.4 and 12.2",
    verified="secondary",
)
