"""Results in, text, JSON or a printable page out; this room rounds but never computes.

Modules are imported one by one, so that a command loads only what it prints.
"""
