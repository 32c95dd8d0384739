"""The version of this program, said once."""

__version__ = "0.1.0"
