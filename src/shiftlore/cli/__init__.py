"""The command line: the only room that prints, reads keys or exits."""
