"""``python -m soakage`` is the command ``soakage``."""

from soakage.cli import main

if __name__ == "__main__":  # a process that reads uploads begins by importing this again
    main()
