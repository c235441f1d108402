"""How a migration runs: on the connection it is given, in the transaction that is open there."""

from __future__ import annotations

from alembic import context

from soakage.store.schema import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transaction_per_migration=False,
)
context.run_migrations()
