"""Records as plain frozen values."""
