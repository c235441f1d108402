"""The store: schema, migrations and engines; SQLite by default, PostgreSQL for an office."""
