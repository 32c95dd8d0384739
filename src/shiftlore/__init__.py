"""Shiftlore: what is most likely wrong with an automatic transmission, and what to check next."""

__version__ = "0.1.0"
