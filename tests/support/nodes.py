"""All nodes of a text, for tests that look at each."""

from collections.abc import Iterator

from shiftlore.reading import Node


def walk(root: Node) -> Iterator[Node]:
    """Give a node and everything below it, in the order written."""
    yield root
    for below in [part for pair in root.pairs for part in pair] or root.items:
        yield from walk(below)
