"""Use cases: evaluate, plan, explain."""
