"""Soakage: from insulation readings under direct voltage to a judgement with its reasons."""

__version__ = "0.1.0"
