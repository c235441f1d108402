"""Importers: one file for each way a record comes in, found by what it declares."""
