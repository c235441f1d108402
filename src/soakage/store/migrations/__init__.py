"""Versions of the schema; alembic finds them here."""
