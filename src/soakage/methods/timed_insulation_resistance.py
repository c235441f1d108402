"""Test method: timed insulation resistance."""

from soakage.methods.base import Mark, Method, Shape

METHOD = Method(
    id="timed-insulation-resistance",
    title="Timed insulation resistance",
    purpose="Resistance at any marks under one constant voltage. Tells how absorption and leakage "
    "share the current.",
    procedure=(
        "Apply the voltage and start the clock.",
        "Read at each mark; keep the voltage constant.",
        "Switch off, let the instrument discharge the object, then earth it.",
    ),
    shape=Shape.HOLD,
    classes=("rotating-machine", "transformer", "cable", "switchgear", "apparatus"),
    marks=(Mark(30.0, required=False), Mark(60.0), Mark(120.0, required=False)),
    quantities=(
        "insulation_resistance_60s",
        "insulation_resistance_60s_corrected",
        "dielectric_absorption_ratio",
    ),
    needs=("test_voltage", "winding_temperature"),
    chart="resistance",
    voltage_role="insulation-resistance",
    limits_of_use="Ratios at marks of your own must be stated with their times.",
    source="IEEE Std 43-2013, cl. 5.4",
    verified="secondary",
)
