"""``python -m soakage`` is the command ``soakage``."""

from soakage.cli import main

main()
