"""Three values of each argument of every formula that takes plain arrays, within the formula's range."""

from __future__ import annotations

Call = tuple[str, dict[str, list[float]]]
CALLS: tuple[Call, ...] = (
    ("resistance.insulation_resistance", {"test_voltage": [500, 1e3, 5e3], "current": [1e-9, 2e-6, 3e-3]}),
    ("indices.resistance_ratio", {"later": [2e9, 1e9, 5e8], "earlier": [1e9, 1e9, 1e9]}),
    (
        "indices.dielectric_discharge",
        {
            "discharge_current_60s": [-4e-8, -5e-7, 1e-9],
            "test_voltage": [500, 1e3, 5e3],
            "capacitance": [1e-7, 1e-6, 1e-8],
        },
    ),
    (
        "absorption.absorption_ratio_model",
        {
            "absorption_exponent": [0.5, 0.8, 1.0],
            "conduction_share_60s": [0.0, 0.3, 1.0],
            "later": [600, 60, 60],
            "earlier": [60, 30, 15],
        },
    ),
    ("linearity.voltage_dependence", {"first": [1e9, 1e9, 2e9], "last": [7e8, 1e9, 3e9]}),
    (
        "linearity.nonlinearity_coefficient",
        {
            "current_max": [1e-5, 2e-5, 3e-5],
            "voltage_max": [1e4, 2e4, 3e4],
            "current_min": [1e-6, 2e-6, 4e-6],
            "voltage_min": [1e3, 2e3, 5e3],
            "floor": [0.0, 1e-5, 1e-6],
        },
    ),
    (
        "three_point.conduction_current",
        {
            "current_60s": [11.5, 9.0, 20.0],
            "current_190s": [5.48, 4.5, 9.0],
            "current_600s": [3.08, 3.0, 5.0],
        },
    ),
    (
        "three_point.absorption_exponent",
        {
            "current_60s": [11.5, 9.0, 20.0],
            "current_190s": [5.48, 4.5, 9.0],
            "current_600s": [3.08, 3.0, 5.0],
        },
    ),
    (
        "three_point.absorption_coefficient",
        {
            "current_60s": [11.5, 9.0, 20.0],
            "current_190s": [5.48, 4.5, 9.0],
            "current_600s": [3.08, 3.0, 5.0],
            "test_voltage": [1e3, 5e3, 1e4],
        },
    ),
    (
        "layers.two_layer_discharge_current",
        {
            "time": [1, 60, 600],
            "test_voltage": [500, 1e3, 5e3],
            "capacitance_1": [2e-7, 1e-7, 3e-7],
            "capacitance_2": [2e-7, 2e-7, 1e-7],
            "conductance_1": [1e-10, 1e-9, 2e-10],
            "conductance_2": [4e-10, 4e-9, 1e-10],
            "charging_time": [60, 1800, 1e4],
        },
    ),
    (
        "layers.pdc_conductivity",
        {
            "polarization_current": [5e-9, 2e-9, 1e-8],
            "depolarization_current": [-1e-9, -1e-9, -9e-9],
            "test_voltage": [500, 1e3, 5e3],
            "vacuum_capacitance": [1e-8, 1e-9, 1e-7],
        },
    ),
    (
        "memory.residual_current",
        {
            "time": [1, 60, 600],
            "test_voltage": [500, 1e3, 5e3],
            "absorption_coefficient": [1e-9, 1e-8, 1e-7],
            "absorption_exponent": [0.5, 0.8, 1.0],
            "held": [60, 600, 1800],
            "earthed": [0, 600, 1e4],
        },
    ),
    (
        "memory.residual_current_share",
        {
            "absorption_exponent": [0.5, 0.8, 1.0],
            "held": [60, 600, 1800],
            "earthed": [10, 600, 1e4],
            "voltage_ratio": [1, 2, 0.5],
            "mark": [60, 30, 600],
        },
    ),
    (
        "memory.residual_share_time",
        {
            "absorption_exponent": [0.5, 0.8, 1.0],
            "held": [60, 600, 1800],
            "share": [0.05, 0.01, 0.1],
            "voltage_ratio": [1, 2, 0.5],
            "mark": [60, 30, 600],
        },
    ),
    ("charge.stored_energy", {"capacitance": [1e-9, 1e-7, 1e-6], "test_voltage": [500, 1e3, 5e3]}),
    ("charge.stored_charge", {"capacitance": [1e-9, 1e-7, 1e-6], "test_voltage": [500, 1e3, 5e3]}),
    (
        "charge.threshold_capacitance_energy",
        {"stored_energy": [0.25, 0.35, 10], "test_voltage": [500, 1e3, 5e3]},
    ),
    (
        "charge.threshold_capacitance_charge",
        {"stored_charge": [45e-6, 1e-6, 1e-3], "test_voltage": [500, 1e3, 5e3]},
    ),
    ("charge.charging_current", {"capacitance": [1e-9, 1e-7, 1e-6], "ramp_rate": [1.0, 16.7, 33.3]}),
    (
        "charge.charging_time",
        {
            "capacitance": [1e-9, 1e-7, 1e-6],
            "test_voltage": [500, 1e3, 5e3],
            "current_limit": [1e-3, 3e-3, 1.0],
            "series_resistance": [0.0, 1e5, 1e6],
            "within": [0.01, 0.1, 0.001],
        },
    ),
    (
        "earthing.minimum_earthing_time",
        {
            "time_under_voltage": [60, 600, 1800],
            "residual_share_time": [0.0, 1e4, 100.0],
            "factor": [4, 4, 6],
        },
    ),
    (
        "earthing.decay_time",
        {
            "resistance": [1e6, 1e7, 1e8],
            "capacitance": [1e-7, 1e-6, 1e-8],
            "test_voltage": [40, 1e3, 5e3],
            "end_voltage": [50, 25, 60],
        },
    ),
    (
        "indirect.self_discharge_resistance",
        {
            "capacitance": [1e-9, 1e-7, 1e-6],
            "voltage_start": [200, 500, 1e3],
            "voltage_end": [150, 300, 1],
            "time": [20, 600, 60],
        },
    ),
    (
        "indirect.voltmeter_resistance",
        {
            "series_resistance": [4e4, 1e5, 1e6],
            "reading_direct": [220, 100, 50],
            "reading_series": [100, 20, 5],
        },
    ),
    (
        "indirect.series_voltmeter_resistance",
        {
            "supply_voltage": [440, 220, 100],
            "reading": [5, 20, 50],
            "voltmeter_resistance": [3e4, 1e5, 1e6],
        },
    ),
    (
        "temperature.halving_factor",
        {
            "winding_temperature_degC": [10, 40, 70],
            "halving_interval": [10, 15, 5],
            "base_temperature_degC": [40, 20, 25],
        },
    ),
    (
        "temperature.exponential_factor",
        {
            "winding_temperature_degC": [10, 40, 70],
            "coefficient": [1245, 4230, 3000],
            "base_temperature_degC": [40, 20, 25],
        },
    ),
    (
        "temperature.per_10k_factor",
        {
            "winding_temperature_degC": [10, 40, 70],
            "multiplier": [1.5, 2.0, 1.2],
            "base_temperature_degC": [40, 20, 25],
        },
    ),
    (
        "energy.activation_factor",
        {
            "winding_temperature_degC": [10, 40, 70],
            "activation_energy": [0.4, 1.1, 1.24],
            "base_temperature_degC": [40, 20, 25],
        },
    ),
    (
        "energy.equivalent_activation_energy",
        {"winding_temperature_degC": [10, 40, 70], "halving_interval": [10, 15, 5]},
    ),
    (
        "energy.halving_interval",
        {
            "cooler_degC": [10, 20, 30],
            "resistance_cooler": [4e8, 2e8, 1e9],
            "warmer_degC": [20, 50, 35],
            "resistance_warmer": [1e8, 1e8, 9e8],
        },
    ),
    ("humidity.dew_point", {"ambient_temperature_degC": [-10, 20, 40], "relative_humidity": [0.3, 0.6, 1.0]}),
    (
        "humidity.relative_humidity",
        {"ambient_temperature_degC": [-10, 20, 40], "dew_point_degC": [-20, 10, 40]},
    ),
    (
        "humidity.dew_point_margin",
        {
            "winding_temperature_degC": [0, 25, 60],
            "ambient_temperature_degC": [-10, 20, 40],
            "relative_humidity": [0.3, 0.6, 1.0],
        },
    ),
    (
        "cable.cable_resistance",
        {
            "resistivity": [1e12, 5e12, 1e13],
            "length": [10, 1e3, 5e3],
            "conductor_diameter": [0.01, 0.02, 0.03],
            "insulation_diameter": [0.02, 0.05, 0.04],
        },
    ),
    (
        "cable.cable_resistivity",
        {
            "insulation_resistance": [1e6, 1e9, 1e12],
            "length": [10, 1e3, 5e3],
            "conductor_diameter": [0.01, 0.02, 0.03],
            "insulation_diameter": [0.02, 0.05, 0.04],
        },
    ),
    (
        "cable.cable_insulation_thickness",
        {
            "insulation_resistance": [1e8, 5e8, 1e9],
            "length": [10, 1e3, 5e3],
            "conductor_diameter": [0.01, 0.02, 0.03],
            "resistivity": [1e12, 5e12, 1e13],
        },
    ),
    (
        "cable_constants.resistance_length",
        {"insulation_resistance": [1e6, 1e9, 1e12], "length": [10, 1e3, 5e3]},
    ),
    (
        "cable_constants.cable_capacitance",
        {
            "relative_permittivity": [1, 2.3, 5],
            "length": [10, 1e3, 5e3],
            "conductor_diameter": [0.01, 0.02, 0.03],
            "insulation_diameter": [0.02, 0.05, 0.04],
        },
    ),
    (
        "uncertainty.ratio_uncertainty",
        {"numerator": [0.01, 0.05, 0.0], "denominator": [0.02, 0.05, 0.1], "correlation": [0.0, 1.0, -1.0]},
    ),
    (
        "uncertainty.product_uncertainty",
        {"first": [0.01, 0.05, 0.0], "second": [0.02, 0.05, 0.1], "correlation": [0.0, 1.0, -1.0]},
    ),
    (
        "uncertainty.reading_uncertainty",
        {
            "insulation_resistance": [1e6, 1e9, 1e11],
            "of_reading": [0.05, 0.1, 0.0],
            "resolution": [1e4, 0.0, 1e9],
            "current_offset": [0.0, 1e-12, 2e-11],
            "test_voltage": [500, 1e3, 5e3],
            "timing": [0.0, 0.5, 1.0],
            "time": [60, 30, 600],
            "local_slope": [0.8, 0.5, 0.1],
        },
    ),
    (
        "uncertainty.corrected_uncertainty",
        {
            "relative_uncertainty": [0.05, 0.0, 0.2],
            "temperature_uncertainty": [2, 1, 0],
            "slope": [0.07, 0.05, 0.1],
        },
    ),
    (
        "uncertainty_ratio.resistance_ratio_uncertainty",
        {
            "later": [4e9, 2e9, 1e9],
            "earlier": [1e9, 1e9, 1e9],
            "repeatability": [0.01, 0.0, 0.02],
            "of_reading": [0.05, 0.05, 0.1],
            "common_gain": [1.0, 0.0, 0.5],
            "timing": [0.5, 1.0, 0.0],
            "slope_later": [0.1, 0.2, 0.0],
            "slope_earlier": [0.8, 0.6, 0.5],
        },
    ),
    (
        "conformity.conformity_probability",
        {
            "value": [13.6, 10, 20],
            "standard_uncertainty": [1.8, 1.0, 2.0],
            "lower": [12.5, 9, 0],
            "upper": [16.3, 11, 100],
        },
    ),
    (
        "conformity.resistance_conformity_probability",
        {
            "insulation_resistance": [1e8, 2e8, 5e7],
            "relative_uncertainty": [0.1, 0.2, 0.05],
            "minimum": [1e8, 1e8, 1e8],
        },
    ),
    ("conformity.guard_band", {"standard_uncertainty": [0.1, 1, 10], "probability": [0.5, 0.95, 0.99]}),
    ("conformity.normal_probability", {"z": [-2.0, 0.0, 3.0]}),
)
