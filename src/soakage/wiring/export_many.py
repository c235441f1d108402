"""Records of an export, many in one file: Parquet, workbooks, JSON."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from soakage.errors import StoreError
from soakage.importers import write_json, write_parquet, write_xlsx
from soakage.importers.exchange import MOST_READINGS, MOST_RECORDS
from soakage.importers.reading import read_bytes
from soakage.model.record import Record
from soakage.model.stated import content_id
from soakage.wiring.export_folder import ExportFolder

Write = Callable[[Path, Iterable[Record]], None]
_XLSX = (write_xlsx.write_xlsx, write_xlsx.MOST_RECORDS, write_xlsx.MOST_READINGS)
MANY: dict[str, tuple[Write, int, int]] = {
    "parquet": (write_parquet.write_parquet, MOST_RECORDS, MOST_READINGS),
    "xlsx": _XLSX,
    "json": (write_json.write_json, MOST_RECORDS, MOST_READINGS),
}


class ManyFile:
    """Collects records and writes a file once it holds as many as can be read again.

    Parameters
    ----------
    out : ExportFolder
        Where to.
    form : str
        parquet, xlsx or json.
    """

    def __init__(self, out: ExportFolder, form: str) -> None:
        self._out, self._form = out, form
        self._write, self._most, self._most_readings = MANY[form]
        self._records: list[Record] = []
        self._contents: list[str] = []
        self._readings, self._number = 0, 1

    @property
    def _path(self) -> str:
        return f"records/records-{self._number:05d}.{self._form}"

    def add(self, record: Record, content: str) -> tuple[str, int]:
        """Take a record; return the path of its file and its place there, from 0."""
        full = len(self._records) == self._most or self._readings + len(record.readings) > self._most_readings
        if self._records and full:
            self.close()
        self._records.append(record)
        self._contents.append(content)
        self._readings += len(record.readings)
        return self._path, len(self._records) - 1

    def close(self) -> None:
        """Write what was collected, read it again and compare.

        Raises
        ------
        StoreError
            If it does not read back the same.
        """
        if not self._records:
            return
        place = self._out.place(self._path)
        self._write(place, self._records)
        found = [content_id(record) for record in read_bytes(place.read_bytes(), self._path)]
        if found != self._contents:
            raise StoreError(
                f"{self._path} does not read back the same. Export with --format record, and report it."
            )
        self._out.written(self._path)
        self._records, self._contents, self._readings = [], [], 0
        self._number += 1
