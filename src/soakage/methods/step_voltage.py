"""Test method: step voltage."""

from soakage.methods.base import Mark, Method, Shape

METHOD = Method(
    id="step-voltage",
    title="Step voltage",
    purpose="Resistance at the end of equal holds at rising voltages. A fall with voltage points to "
    "moisture, dirt or a crack.",
    procedure=(
        "Apply the first step and start the clock.",
        "Raise to the next step at the end of each hold; all holds equal, or graded as planned.",
        "Read at the end of each hold; stop at an abrupt rise of the current.",
        "Switch off, let the instrument discharge the object, then earth it.",
    ),
    shape=Shape.STEPS,
    classes=("rotating-machine", "cable", "switchgear", "apparatus"),
    marks=(Mark(60.0),),
    quantities=("insulation_resistance_60s", "voltage_dependence"),
    needs=("test_voltage",),
    chart="steps",
    voltage_role="overvoltage",
    limits_of_use="The current of earlier steps is still in each reading, so a sound winding rises from "
    "step to step; holds of different length make the plain comparison meaningless.",
    source="IEEE Std 95-2002 (stepped voltage); the quick form is common practice",
    verified="memory",
)
