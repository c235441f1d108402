"""The tables of the store, one schema for both engines.

`entry` and `blob` hold everything that was recorded; the tables that follow from them
(:mod:`soakage.store.rows`) are there to be searched, and `soakage check` builds them anew and compares.  A few
tables belong to this one place and are in no bundle: accounts, sessions, and readings being taken.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)

VERSION = "0001"  # of the schema: the newest file in migrations/versions


class Hash(TypeDecorator[str]):
    """A SHA-256: hexadecimal in Python, 32 bytes in the database."""

    impl = LargeBinary(32)
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> bytes | None:
        """Return the bytes of a hexadecimal hash."""
        del dialect
        return None if value is None else bytes.fromhex(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> str | None:  # noqa: ANN401
        """Return the hexadecimal of a hash."""
        del dialect
        if value is None or isinstance(value, bytes | memoryview):
            return None if value is None else bytes(value).hex()
        return f"no hash: {value!r}"  # somebody else wrote it; a check must be able to name it


metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)
_BIG = BigInteger().with_variant(Integer, "sqlite")
_ID = String(64)

# What is kept ------------------------------------------------------------------------------------
chain = Table(
    "chain",  # the two chains this store writes: its own and the one that is not shared; locked while writing
    metadata,
    Column("store", _ID, primary_key=True),
    Column("number", _BIG, nullable=False),
    Column("head", Hash, nullable=False),
    Column("at", _BIG, nullable=False),
)
entry = Table(
    "entry",
    metadata,
    Column("hash", Hash, primary_key=True),
    Column("store", _ID, nullable=False),
    Column("number", _BIG, nullable=False),
    Column("previous", Hash, nullable=False),
    Column("at", _BIG, nullable=False),
    Column("person", Text, nullable=False),
    Column("identity", Text, nullable=False),
    Column("kind", String(16), nullable=False),
    Column("subject", _ID, nullable=False),
    Column("action", String(16), nullable=False),
    Column("parents", Text, nullable=False),  # JSON list of hashes
    Column("reason", Text, nullable=False),
    Column("body_sha256", Hash, nullable=False),
    Column("body", Text),  # canonical JSON; null once purged
    Index(None, "kind", "subject"),
    Index(None, "store", "number"),
)
blob = Table(
    "blob",
    metadata,
    Column("sha256", Hash, primary_key=True),  # of the bytes as received, before they are packed
    Column("packing", String(8), nullable=False),  # none, zlib
    Column("content", LargeBinary, nullable=False),
)

# What follows from it ----------------------------------------------------------------------------
site = Table(
    "site",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("name", Text, nullable=False),
    Column("fields", Text, nullable=False),  # JSON
    Index(None, "name"),
)
asset = Table(
    "asset",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("site", Text),
    Column("name", Text),
    Column("tag", Text),
    Column("serial", Text),
    Column("class", String(32)),
    Column("rated_voltage", Float(53)),
    Column("insulation", Text),
    Column("year", Integer),
    Column("retired", Boolean, nullable=False),
    Column("fields", Text, nullable=False),  # JSON: the whole nameplate as plain values
    Index(None, "name"),
    Index(None, "tag"),
    Index(None, "serial"),
    Index(None, "site"),
)
instrument = Table(
    "instrument",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("name", Text),
    Column("serial", Text),
    Column("calibration_due", String(10)),
    Column("fields", Text, nullable=False),
    Index(None, "serial"),
)
person = Table(
    "person",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("name", Text, nullable=False),
    Column("fields", Text, nullable=False),
)
recipe = Table(
    "recipe",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("name", Text, nullable=False),
    Column("text", Text, nullable=False),  # TOML
    Index(None, "name"),
)
setting = Table(
    "setting",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("value", Text, nullable=False),  # JSON
)
visit = Table(
    "visit",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("asset", _ID, nullable=False),
    Column("name", Text, nullable=False),
    Column("day", String(10)),
    Index(None, "asset", "day"),
)
test = Table(
    "test",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("asset", _ID),
    Column("section", Text, nullable=False),
    Column("visit", _ID),
    Column("instrument", _ID),
    Column("method", String(40), nullable=False),
    Column("test_voltage", Float(53)),
    Column("day", String(10)),
    Column("started", String(40)),
    Column("content", _ID, nullable=False),  # content id of the current revision
    Column("revision", Integer, nullable=False),  # how many revisions there are
    Column("received", Hash, nullable=False),  # entry that holds the current record
    Column("readings", Hash, nullable=False),  # blob
    Column("file", Text, nullable=False),
    Column("file_sha256", Hash),  # blob of the file as received, where it was kept
    Column("row", Integer),
    Column("state", String(12), nullable=False),  # current, withdrawn
    Column("status", String(16)),  # of the verdict that stands
    Column("sentence", Text),
    Column("verdict", Hash),  # entry of that verdict
    Column("review", String(12), nullable=False),  # draft, reviewed, signed
    Column("reviewer", Text),
    Column("reviewed_at", _BIG),
    Index(None, "asset", "day"),
    Index(None, "visit"),
    Index(None, "content"),
    Index(None, "day"),
    Index(None, "status", "day"),
)
revision = Table(
    "revision",
    metadata,
    Column("entry", Hash, primary_key=True),
    Column("test", _ID, ForeignKey("test.id", ondelete="CASCADE"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("content", _ID, nullable=False),
    Column("reason", Text, nullable=False),
    Column("person", Text, nullable=False),
    Column("at", _BIG, nullable=False),
    Index(None, "test"),
    Index(None, "content"),
)
verdict = Table(
    "verdict",
    metadata,
    Column("entry", Hash, primary_key=True),
    Column("test", _ID, ForeignKey("test.id", ondelete="CASCADE"), nullable=False),
    Column("content", _ID, nullable=False),  # revision it judges
    Column("profile", Text, nullable=False),
    Column("profile_sha256", Hash, nullable=False),
    Column("criteria_sha256", Hash, nullable=False),
    Column("version", String(40), nullable=False),
    Column("status", String(16), nullable=False),
    Column("sentence", Text, nullable=False),
    Column("result", Hash, nullable=False),  # blob: the record of judge --json
    Column("at", _BIG, nullable=False),
    Column("person", Text, nullable=False),
    Column("reason", Text, nullable=False),
    Index(None, "test"),
)
figure = Table(
    "figure",  # quantities of the verdict that stands, for trends and peers
    metadata,
    Column("test", _ID, ForeignKey("test.id", ondelete="CASCADE"), primary_key=True),
    Column("quantity", String(64), primary_key=True),
    Column("value", Float(53), nullable=False),
    Column("bound", String(5)),
    Column("uncertainty", Float(53)),
    Column("rule", Text),
    Column("base_temperature", Float(53)),
    sqlite_with_rowid=False,
)
finding = Table(
    "finding",
    metadata,
    Column("test", _ID, ForeignKey("test.id", ondelete="CASCADE"), primary_key=True),
    Column("place", Integer, primary_key=True),
    Column("code", String(40), nullable=False),
    Column("sentence", Text, nullable=False),
    Column("status", String(16)),
    Index(None, "code"),
    sqlite_with_rowid=False,
)
remark = Table(
    "remark",  # what was added to something: notes, attachments, events, reviews, calibrations
    metadata,
    Column("entry", Hash, primary_key=True),
    Column("kind", String(16), nullable=False),
    Column("subject", _ID, nullable=False),
    Column("action", String(16), nullable=False),
    Column("person", Text, nullable=False),
    Column("at", _BIG, nullable=False),
    Column("fields", Text, nullable=False),  # JSON
    Index(None, "kind", "subject"),
)
standing = Table(
    "standing",  # where each asset stands: its newest visit, made anew whenever one of its tests changes
    metadata,
    Column("asset", _ID, primary_key=True),
    Column("tests", Integer, nullable=False),  # current ones
    Column("day", String(10)),  # of the newest
    Column("visit", _ID),
    Column("status", String(16), nullable=False),  # worst of the newest visit
    Column("unsigned", Integer, nullable=False),  # tests not signed
    Column("resistance", Float(53)),  # lowest corrected 60 s resistance of the newest visit [ohm]
    Column("index", Float(53)),  # lowest polarization index of the newest visit
    Column("fall", Float(53)),  # ln of the newest over the one before, of the section that fell most
    Index(None, "status"),
    Index(None, "fall"),
)
conflict = Table(
    "conflict",
    metadata,
    Column("kind", String(16), primary_key=True),
    Column("subject", _ID, primary_key=True),
    Column("field", String(64), primary_key=True),
    Column("claims", Text, nullable=False),  # JSON: value, person, at, entry of each
)
purged = Table(
    "purged",  # subjects whose content was removed for good; nothing of them comes back by a merge
    metadata,
    Column("kind", String(16), primary_key=True),
    Column("subject", _ID, primary_key=True),
    Column("entry", Hash, nullable=False),
    UniqueConstraint("entry"),
)

# What belongs to this place only: never in a bundle, not in the journal ---------------------------------
account = Table(
    "account",
    metadata,
    Column("name", Text, primary_key=True),
    Column("hash", Text, nullable=False),  # of the password, as argon2 writes it
    Column("role", String(16), nullable=False),
    Column("closed", Boolean, nullable=False),
    Column("made", _BIG, nullable=False),
    Column("changed", _BIG, nullable=False),
)
session = Table(
    "session",
    metadata,
    Column("key", Hash, primary_key=True),  # hash of what the browser holds
    Column("account", Text, ForeignKey("account.name", ondelete="CASCADE"), nullable=False),
    Column("made", _BIG, nullable=False),
    Column("used", _BIG, nullable=False),
    Index(None, "account"),
)
draft = Table(
    "draft",  # readings being taken by hand, until they are received as a record
    metadata,
    Column("id", _ID, primary_key=True),
    Column("person", Text, nullable=False),
    Column("asset", _ID),
    Column("begun", _BIG, nullable=False),
    Column("changed", _BIG, nullable=False),
    Column("fields", Text, nullable=False),  # JSON
)
draft_row = Table(
    "draft_row",  # one row for each reading, so that each is on the disk when it is acknowledged
    metadata,
    Column("draft", _ID, ForeignKey("draft.id", ondelete="CASCADE"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("at", _BIG, nullable=False),
    Column("fields", Text, nullable=False),  # JSON
    sqlite_with_rowid=False,
)
KEPT = (chain, entry, blob)
LOCAL = (account, session, draft, draft_row)
FOLLOWS = tuple(table for table in metadata.sorted_tables if table not in KEPT + LOCAL)
