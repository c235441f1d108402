"""Saves a store of today's schema for the tests of years to come: a file of SQLite, and a dump of PostgreSQL.

Run once, when a version of the schema is released: ``python -m tools.old_store``.  What was saved is never made anew.
"""

from __future__ import annotations

import os
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

from sqlalchemy import make_url, select

from soakage.app.intake import Incoming, take_in
from soakage.app.rules import default_rules
from soakage.demo.history import history_files
from soakage.importers.reading import read_bytes
from soakage.store import schema
from soakage.store.address import address
from soakage.store.memory import StoreMemory
from soakage.store.store import Store
from tools import postgres
from tools.steps import StepFailedError

OLD = Path(__file__).parents[1] / "tests" / "store" / "old"
FILES = 4
NAME = "0" * 31 + "1"


def fill(place: str) -> None:
    """Fill a store with some of everything: tests with verdicts, a note, an attachment, a withdrawal, a purge."""
    files = dict(list(history_files().items())[:FILES])
    with Store(address(place), name=lambda: NAME) as store:
        incoming = [
            Incoming(name, text.encode(), read_bytes(text.encode(), name)) for name, text in files.items()
        ]
        take_in(StoreMemory(store, "N. Invented"), incoming, default_rules())
        with store.writing("N. Invented") as writer:
            entry = schema.entry.c
            received = select(entry.subject).where(entry.action == "received").order_by(entry.number)
            noted, withdrawn, purged = list(writer.connection.execute(received).scalars())[:3]
            writer.add("test", noted, "noted", {"text": "Invented note."})
            photo = writer.blob(b"an invented photograph" * 20)
            body = {"name": "photo.jpg", "media_type": "image/jpeg", "sha256": photo, "size": 440}
            writer.add("test", noted, "attached", body)
            writer.add(
                "test", withdrawn, "withdrawn", {"set": {"withdrawn": True}}, reason="Invented reason."
            )
            writer.add("test", purged, "purged", {"file": "export.zip"}, reason="Invented reason.")
            writer.state("setting", "theme", {"value": "dark"}, shared=False)


def dump(server: str) -> str:
    """Return the statements that make the store on a server anew."""
    programs = postgres.programs()
    if programs is None:
        raise StepFailedError("PostgreSQL: pg_dump is not here.")
    plain = make_url(server).set(drivername="postgresql").render_as_string(hide_password=False)
    done = subprocess.run(
        [programs / "pg_dump", "--inserts", "--no-owner", "--no-privileges", plain],
        check=True,
        capture_output=True,
        encoding="utf-8",
    )
    # lines that only PostgreSQL's own shell understands
    lines = [line for line in done.stdout.splitlines() if line and not line.startswith(("\\", "--"))]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Save both; a version that was saved stays as it is."""
    OLD.mkdir(exist_ok=True)
    file, script = OLD / f"{schema.VERSION}.sqlite", OLD / f"{schema.VERSION}.sql"
    if file.exists() or script.exists():
        raise StepFailedError(f"{file.name}: this version was saved already. It is never made anew.")
    fill(os.fspath(file))
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("pragma journal_mode = delete")
        connection.execute("vacuum")
    with postgres.cluster() as server:
        fill(server.address)
        script.write_text(dump(server.address), encoding="utf-8")
    print(f"Saved {file} and {script}.")


if __name__ == "__main__":
    main()
