"""Test method: dielectric absorption ratio."""

from soakage.methods.base import Mark, Method, Shape

METHOD = Method(
    id="dielectric-absorption-ratio",
    title="Dielectric absorption ratio",
    purpose="Resistance at 60 s over that at 30 s (and at 15 s). A one-minute test that shows whether "
    "the current still decays.",
    procedure=(
        "Apply the voltage and start the clock.",
        "Read at 15 s, 30 s and 60 s.",
        "Switch off, let the instrument discharge the object, then earth it.",
    ),
    shape=Shape.HOLD,
    classes=("rotating-machine", "transformer", "cable", "switchgear", "apparatus"),
    marks=(Mark(15.0, required=False), Mark(30.0), Mark(60.0)),
    quantities=(
        "insulation_resistance_60s",
        "insulation_resistance_60s_corrected",
        "dielectric_absorption_ratio",
        "absorption_ratio_60_15",
    ),
    needs=("test_voltage", "winding_temperature"),
    chart="resistance",
    voltage_role="insulation-resistance",
    limits_of_use="Limits for 60/30 and 60/15 are not interchangeable, and neither replaces the "
    "polarization index.",
    source="common practice, no source",
    verified="practice",
)
