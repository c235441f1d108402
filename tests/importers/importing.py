"""What the tests of the importers share: a record file to vary, and short ways to read and to fail."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from soakage.errors import Fault, InputError
from soakage.importers.reading import read_bytes
from soakage.model.record import Origin, Record

MINIMAL = "# soakage = 1\n# class = rotating-machine\n# method = polarization-index\n"
TABLE = "time [s],voltage [V],current [uA]\n15,5003,31.8\n30,5002,22.1\n60,5001,14.9\n600,5001,4.1\n"

# The example of the format's own description, with every awkward kind of value added.
FULL = """\
# soakage = 1
# asset = "Pump 3 motor"
# class = "rotating-machine"
# rated_voltage = "6.6 kV"
# winding = "form-wound"
# insulation = "thermosetting"
# thermal_class = "155"
# year = 2004
# terminals = ["U", "V", "W", "frame"]
# method = "polarization-index"
# test_voltage = "5 kV"
# started = 2026-03-14T09:20:00+02:00
# winding_temperature = "27.5 degC"
# ambient_temperature = "22 degC"
# relative_humidity = "55 %"
# hours_out_of_service = 36
# tested = ["U", "V", "W"]
# earthed = ["frame"]
# voltage_found = {dc = "0 V", ac = "12 V", frequency = "50 Hz"}
# previous_test = {voltage = "2.5 kV", held = "1 min", earthed = "2 h"}
# accuracy = [{range = "10 GOhm", reading = "5 %", offset = "20 pA"}, {reading = "20 %"}]
# notes = "Cold, dry day; fan off"
# works_number = "A 7"
"""


def read_one(text: str | bytes, name: str = "test.csv", **options: str) -> Record:
    """Read the one record of a text."""
    (record,) = read_all(text, name, options)
    return record


def read_all(
    text: str | bytes, name: str = "test.csv", options: Mapping[str, str] | None = None
) -> tuple[Record, ...]:
    """Read every record of a text."""
    return read_bytes(text.encode() if isinstance(text, str) else text, name, options or {})


def faults_of(text: str | bytes, name: str = "test.csv", **options: str) -> tuple[Fault, ...]:
    """Return the faults of a text that must not be readable."""
    with pytest.raises(InputError) as caught:
        read_all(text, name, options)
    assert all(fault.file.startswith(name) for fault in caught.value.faults)
    assert all(fault.problem and fault.remedy for fault in caught.value.faults)
    return caught.value.faults


def only_fault(text: str | bytes, name: str = "test.csv", **options: str) -> Fault:
    """Return the one fault of a text."""
    faults = faults_of(text, name, **options)
    assert len(faults) == 1, "\n".join(map(str, faults))
    return faults[0]


def codes(record: Record) -> list[str]:
    """Return the codes of a record's findings in order."""
    return [finding.code for finding in record.findings]


def without_origin(record: Record) -> Record:
    """Return a record that can be compared with one read from elsewhere."""
    return replace(record, origin=Origin())
