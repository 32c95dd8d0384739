"""Read another shop's file on its own, for "what if this were done there?"."""

from pathlib import Path

from shiftlore.basics.errors import KnowledgeError
from shiftlore.basics.problems import Problem
from shiftlore.knowledge.reading import Fields, read_yaml
from shiftlore.knowledge.records import Shop
from shiftlore.knowledge.shop_things import read_shop


def load_shop(path: Path | str) -> Shop:
    """Read a shop file: labour rate, currency, tools, as `shop.yaml` of the knowledge has them.

    Raises: KnowledgeError: carries every problem found.
    """
    node, problems = read_yaml(Path(path), str(path))
    if node is None:
        raise KnowledgeError(problems)
    below = node.get("shop") if node.kind == "mapping" and len(node.pairs) == 1 else None
    found: list[Problem] = list(problems)
    shop = read_shop(Fields(below or node, found, "shop"))
    errors = [problem for problem in found if problem.severity == "error"]
    if errors:
        raise KnowledgeError(errors)
    return shop
