"""Test method: spot insulation resistance."""

from soakage.methods.base import Mark, Method, Shape

METHOD = Method(
    id="insulation-resistance",
    title="Spot insulation resistance",
    purpose="One reading of the insulation resistance, normally one minute after voltage is applied. "
    "Tells gross dirt, moisture and damage.",
    procedure=(
        "Apply the voltage and start the clock.",
        "Read the resistance at one minute.",
        "Switch off, let the instrument discharge the object, then earth it.",
    ),
    shape=Shape.SPOT,
    classes=("rotating-machine", "transformer", "cable", "switchgear", "apparatus"),
    marks=(Mark(60.0, required=False),),
    quantities=(
        "insulation_resistance",
        "insulation_resistance_60s",
        "insulation_resistance_60s_corrected",
    ),
    needs=("test_voltage", "winding_temperature"),
    chart="none",
    voltage_role="insulation-resistance",
    limits_of_use="A reading without its time is taken as the one-minute value and marked so. It cannot "
    "tell leakage from absorption.",
    source="IEEE Std 43-2013, cl. 5.3",
    verified="secondary",
)
