"""The first tables: the journal, its blobs, and what is made from them to be searched."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

BIG = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make every table."""
    op.create_table(
        "asset",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("site", sa.Text(), nullable=True),
        sa.Column("name", sa.Text(), nullable=True),
        sa.Column("tag", sa.Text(), nullable=True),
        sa.Column("serial", sa.Text(), nullable=True),
        sa.Column("class", sa.String(length=32), nullable=True),
        sa.Column("rated_voltage", sa.Float(precision=53), nullable=True),
        sa.Column("insulation", sa.Text(), nullable=True),
        sa.Column("year", sa.Integer(), nullable=True),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("fields", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_asset")),
    )
    op.create_index(op.f("ix_asset_name"), "asset", ["name"])
    op.create_index(op.f("ix_asset_serial"), "asset", ["serial"])
    op.create_index(op.f("ix_asset_site"), "asset", ["site"])
    op.create_index(op.f("ix_asset_tag"), "asset", ["tag"])
    op.create_table(
        "blob",
        sa.Column("sha256", sa.LargeBinary(32), nullable=False),
        sa.Column("packing", sa.String(length=8), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_blob")),
    )
    op.create_table(
        "chain",
        sa.Column("store", sa.String(length=64), nullable=False),
        sa.Column("number", BIG, nullable=False),
        sa.Column("head", sa.LargeBinary(32), nullable=False),
        sa.Column("at", BIG, nullable=False),
        sa.PrimaryKeyConstraint("store", name=op.f("pk_chain")),
    )
    op.create_table(
        "conflict",
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("subject", sa.String(length=64), nullable=False),
        sa.Column("field", sa.String(length=64), nullable=False),
        sa.Column("claims", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("kind", "subject", "field", name=op.f("pk_conflict")),
    )
    op.create_table(
        "entry",
        sa.Column("hash", sa.LargeBinary(32), nullable=False),
        sa.Column("store", sa.String(length=64), nullable=False),
        sa.Column("number", BIG, nullable=False),
        sa.Column("previous", sa.LargeBinary(32), nullable=False),
        sa.Column("at", BIG, nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("identity", sa.Text(), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("subject", sa.String(length=64), nullable=False),
        sa.Column("action", sa.String(length=16), nullable=False),
        sa.Column("parents", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("body_sha256", sa.LargeBinary(32), nullable=False),
        sa.Column("body", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("hash", name=op.f("pk_entry")),
    )
    op.create_index(op.f("ix_entry_kind_subject"), "entry", ["kind", "subject"])
    op.create_index(op.f("ix_entry_store_number"), "entry", ["store", "number"])
    op.create_table(
        "instrument",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=True),
        sa.Column("serial", sa.Text(), nullable=True),
        sa.Column("calibration_due", sa.String(length=10), nullable=True),
        sa.Column("fields", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instrument")),
    )
    op.create_index(op.f("ix_instrument_serial"), "instrument", ["serial"])
    op.create_table(
        "person",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("fields", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
    )
    op.create_table(
        "purged",
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("subject", sa.String(length=64), nullable=False),
        sa.Column("entry", sa.LargeBinary(32), nullable=False),
        sa.PrimaryKeyConstraint("kind", "subject", name=op.f("pk_purged")),
        sa.UniqueConstraint("entry", name=op.f("uq_purged_entry")),
    )
    op.create_table(
        "recipe",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe")),
    )
    op.create_index(op.f("ix_recipe_name"), "recipe", ["name"])
    op.create_table(
        "remark",
        sa.Column("entry", sa.LargeBinary(32), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("subject", sa.String(length=64), nullable=False),
        sa.Column("action", sa.String(length=16), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("at", BIG, nullable=False),
        sa.Column("fields", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("entry", name=op.f("pk_remark")),
    )
    op.create_index(op.f("ix_remark_kind_subject"), "remark", ["kind", "subject"])
    op.create_table(
        "setting",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_setting")),
    )
    op.create_table(
        "site",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("fields", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site")),
    )
    op.create_index(op.f("ix_site_name"), "site", ["name"])
    op.create_table(
        "standing",
        sa.Column("asset", sa.String(length=64), nullable=False),
        sa.Column("tests", sa.Integer(), nullable=False),
        sa.Column("day", sa.String(length=10), nullable=True),
        sa.Column("visit", sa.String(length=64), nullable=True),
        sa.Column("status", sa.String(length=16), nullable=False),
        sa.Column("unsigned", sa.Integer(), nullable=False),
        sa.Column("resistance", sa.Float(precision=53), nullable=True),
        sa.Column("index", sa.Float(precision=53), nullable=True),
        sa.Column("fall", sa.Float(precision=53), nullable=True),
        sa.PrimaryKeyConstraint("asset", name=op.f("pk_standing")),
    )
    op.create_index(op.f("ix_standing_fall"), "standing", ["fall"])
    op.create_index(op.f("ix_standing_status"), "standing", ["status"])
    op.create_table(
        "test",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("asset", sa.String(length=64), nullable=True),
        sa.Column("section", sa.Text(), nullable=False),
        sa.Column("visit", sa.String(length=64), nullable=True),
        sa.Column("instrument", sa.String(length=64), nullable=True),
        sa.Column("method", sa.String(length=40), nullable=False),
        sa.Column("test_voltage", sa.Float(precision=53), nullable=True),
        sa.Column("day", sa.String(length=10), nullable=True),
        sa.Column("started", sa.String(length=40), nullable=True),
        sa.Column("content", sa.String(length=64), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("received", sa.LargeBinary(32), nullable=False),
        sa.Column("readings", sa.LargeBinary(32), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("file_sha256", sa.LargeBinary(32), nullable=True),
        sa.Column("row", sa.Integer(), nullable=True),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("status", sa.String(length=16), nullable=True),
        sa.Column("sentence", sa.Text(), nullable=True),
        sa.Column("verdict", sa.LargeBinary(32), nullable=True),
        sa.Column("review", sa.String(length=12), nullable=False),
        sa.Column("reviewer", sa.Text(), nullable=True),
        sa.Column("reviewed_at", BIG, nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_test")),
    )
    op.create_index(op.f("ix_test_asset_day"), "test", ["asset", "day"])
    op.create_index(op.f("ix_test_content"), "test", ["content"])
    op.create_index(op.f("ix_test_day"), "test", ["day"])
    op.create_index(op.f("ix_test_status_day"), "test", ["status", "day"])
    op.create_index(op.f("ix_test_visit"), "test", ["visit"])
    op.create_table(
        "visit",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("asset", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("day", sa.String(length=10), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visit")),
    )
    op.create_index(op.f("ix_visit_asset_day"), "visit", ["asset", "day"])
    op.create_table(
        "figure",
        sa.Column("test", sa.String(length=64), nullable=False),
        sa.Column("quantity", sa.String(length=64), nullable=False),
        sa.Column("value", sa.Float(precision=53), nullable=False),
        sa.Column("bound", sa.String(length=5), nullable=True),
        sa.Column("uncertainty", sa.Float(precision=53), nullable=True),
        sa.Column("rule", sa.Text(), nullable=True),
        sa.Column("base_temperature", sa.Float(precision=53), nullable=True),
        sa.ForeignKeyConstraint(["test"], ["test.id"], name=op.f("fk_figure_test"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("test", "quantity", name=op.f("pk_figure")),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "finding",
        sa.Column("test", sa.String(length=64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("sentence", sa.Text(), nullable=False),
        sa.Column("status", sa.String(length=16), nullable=True),
        sa.ForeignKeyConstraint(["test"], ["test.id"], name=op.f("fk_finding_test"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("test", "place", name=op.f("pk_finding")),
        sqlite_with_rowid=False,
    )
    op.create_index(op.f("ix_finding_code"), "finding", ["code"])
    op.create_table(
        "revision",
        sa.Column("entry", sa.LargeBinary(32), nullable=False),
        sa.Column("test", sa.String(length=64), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("content", sa.String(length=64), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("at", BIG, nullable=False),
        sa.ForeignKeyConstraint(["test"], ["test.id"], name=op.f("fk_revision_test"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("entry", name=op.f("pk_revision")),
    )
    op.create_index(op.f("ix_revision_content"), "revision", ["content"])
    op.create_index(op.f("ix_revision_test"), "revision", ["test"])
    op.create_table(
        "verdict",
        sa.Column("entry", sa.LargeBinary(32), nullable=False),
        sa.Column("test", sa.String(length=64), nullable=False),
        sa.Column("content", sa.String(length=64), nullable=False),
        sa.Column("profile", sa.Text(), nullable=False),
        sa.Column("profile_sha256", sa.LargeBinary(32), nullable=False),
        sa.Column("criteria_sha256", sa.LargeBinary(32), nullable=False),
        sa.Column("version", sa.String(length=40), nullable=False),
        sa.Column("status", sa.String(length=16), nullable=False),
        sa.Column("sentence", sa.Text(), nullable=False),
        sa.Column("result", sa.LargeBinary(32), nullable=False),
        sa.Column("at", BIG, nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["test"], ["test.id"], name=op.f("fk_verdict_test"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("entry", name=op.f("pk_verdict")),
    )
    op.create_index(op.f("ix_verdict_test"), "verdict", ["test"])
    op.create_table(
        "account",
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("hash", sa.Text(), nullable=False),
        sa.Column("role", sa.String(length=16), nullable=False),
        sa.Column("closed", sa.Boolean(), nullable=False),
        sa.Column("made", BIG, nullable=False),
        sa.Column("changed", BIG, nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_account")),
    )
    op.create_table(
        "session",
        sa.Column("key", sa.LargeBinary(32), nullable=False),
        sa.Column("account", sa.Text(), nullable=False),
        sa.Column("made", BIG, nullable=False),
        sa.Column("used", BIG, nullable=False),
        sa.ForeignKeyConstraint(
            ["account"], ["account.name"], name=op.f("fk_session_account"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_session")),
    )
    op.create_index(op.f("ix_session_account"), "session", ["account"])
    op.create_table(
        "draft",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("asset", sa.String(length=64), nullable=True),
        sa.Column("begun", BIG, nullable=False),
        sa.Column("changed", BIG, nullable=False),
        sa.Column("fields", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_draft")),
    )
    op.create_table(
        "draft_row",
        sa.Column("draft", sa.String(length=64), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("at", BIG, nullable=False),
        sa.Column("fields", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["draft"], ["draft.id"], name=op.f("fk_draft_row_draft"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("draft", "number", name=op.f("pk_draft_row")),
        sqlite_with_rowid=False,
    )
