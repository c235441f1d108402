"""A made-up next step of the schema: a column more, tables copied, every row touched."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from faults.software import LATER, PRESENT

revision = LATER
down_revision = PRESENT
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Change some tables in place, copy others, make a new one."""
    with op.batch_alter_table("finding", recreate="always") as batch:
        batch.add_column(sa.Column("seen", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.add_column("test", sa.Column("begun", sa.Text(), nullable=True))
    connection = op.get_bind()
    tests = connection.execute(sa.text("select id, day from test order by id")).all()
    for test, day in tests:
        connection.execute(sa.text("update test set begun = :day where id = :id"), {"day": day, "id": test})
    op.create_table(
        "tally", sa.Column("kind", sa.String(16), primary_key=True), sa.Column("count", sa.Integer())
    )
    op.execute("insert into tally select kind, count(*) from entry group by kind")
    op.create_index("ix_entry_action", "entry", ["action"])
    op.drop_index("ix_visit_asset_day", "visit")
