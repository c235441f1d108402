"""Formulas on plain arrays: pure functions, SI floats, time on the last axis."""
