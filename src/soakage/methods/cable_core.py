"""Test method: cable core."""

from soakage.methods.base import Mark, Method, Shape

METHOD = Method(
    id="cable-core",
    title="Cable core",
    purpose="Insulation resistance of one core of a cable to its screen and the other cores; compared "
    "as resistance times length.",
    procedure=(
        "Earth the screens and the idle cores; post someone at the far end.",
        "Apply the voltage and read at one minute.",
        "Switch off, discharge and earth the core.",
    ),
    shape=Shape.SPOT,
    classes=("cable",),
    marks=(Mark(60.0, required=False),),
    quantities=("insulation_resistance_60s", "insulation_resistance_60s_corrected", "resistance_length"),
    needs=("test_voltage", "length", "winding_temperature"),
    chart="none",
    voltage_role="insulation-resistance",
    limits_of_use="Published minima are typical values: geometry, temperature and length decide. The "
    "temperature of a buried cable is an estimate.",
    source="ANSI/NETA MTS-2019, Table 100.1, note 6",
    verified="secondary",
)
