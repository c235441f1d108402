"""Test method: dielectric discharge."""

from soakage.methods.base import Mark, Method, Shape

METHOD = Method(
    id="dielectric-discharge",
    title="Dielectric discharge",
    purpose="Current one minute into the short circuit after a long charge, per volt and farad. Shows "
    "a weak layer between good ones that the polarization index misses.",
    procedure=(
        "Apply the voltage and hold it until absorption has ended, usually 30 min.",
        "Take the voltage off and short the object through the instrument.",
        "Read the current one minute into the discharge.",
        "Keep the object earthed.",
    ),
    shape=Shape.DISCHARGE,
    classes=("rotating-machine", "transformer", "cable"),
    marks=(Mark(60.0, required=False), Mark(600.0, required=False), Mark(60.0, after_discharge=True)),
    quantities=(
        "insulation_resistance_60s",
        "insulation_resistance_60s_corrected",
        "dielectric_discharge",
        "capacitance",
    ),
    needs=("test_voltage", "capacitance", "discharge_started"),
    chart="resistance",
    voltage_role="insulation-resistance",
    limits_of_use="Without the capacitance it is not judged. Discharge current and time constants move with "
    "temperature: compare like with like.",
    source="common practice, no source",
    verified="practice",
)
