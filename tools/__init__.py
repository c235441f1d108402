"""What ``go.py`` does: the environment, the gate, the locks. Standard library only."""
