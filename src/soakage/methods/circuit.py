"""Test method: low-voltage circuit schedule."""

from soakage.methods.base import Method, Shape

METHOD = Method(
    id="circuit",
    title="Low-voltage circuit schedule",
    purpose="Insulation resistance of each circuit of a low-voltage installation between conductors "
    "and to earth.",
    procedure=(
        "Take electronics and surge devices off; join the live conductors where only earth is tested.",
        "Apply the voltage of the table and read when steady.",
        "Discharge and go to the next circuit.",
    ),
    shape=Shape.SPOT,
    classes=("low-voltage-installation",),
    marks=(),
    quantities=("insulation_resistance",),
    needs=("test_voltage", "nominal_voltage"),
    chart="none",
    voltage_role="insulation-resistance",
    limits_of_use="No temperature correction is made.",
    source="IEC 60364-6:2016, Table 6.1",
    verified="secondary",
)
