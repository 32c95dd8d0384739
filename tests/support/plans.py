"""Plans of one case and a small tree, made once for the tests of what is printed."""

from functools import cache

from shiftlore.advising import NextSteps, next_steps
from shiftlore.compiling import CompiledCase
from shiftlore.planning import Branch, TreeNode
from support.trade import compiled_of

ANSWERS = {"slips_gear_2": "yes", "fluid_smell_burnt": "no", "fluid_level": "right", "ratio_code_gear_2": "yes"}


@cache
def planned_case() -> CompiledCase:
    """Give a case of the five-speed with a slip in second."""
    return compiled_of(ANSWERS)


@cache
def planned() -> NextSteps:
    """Give its next steps."""
    return next_steps(planned_case())


def make_leaf(kind: str = "stop", p_reach: float = 0.5) -> TreeNode:
    """Give a place where checking stops."""
    return TreeNode(kind, ("overhaul",), p_reach, 0.0, 0.0, 2000.0, 0.9, (("overhaul",), ("used_unit_fit",)), ())


def make_tree() -> TreeNode:
    """Give a tree of one check: smells burnt or not, and rare answers that are folded."""
    sound = {"fluid_smell_burnt": "no", "fluid_colour": "clear"}
    burnt = {"fluid_smell_burnt": "yes", "fluid_colour": "black"}
    branches = (
        Branch(("sound",), 0.5, make_leaf(), (sound,)),
        Branch(("burnt",), 0.4, make_job(), (burnt,)),
        Branch(("a", "b", "c"), 0.1, None, (sound | {"fluid_colour": "dark"}, burnt, sound)),
    )
    return TreeNode("check", ("fluid_look",), 1.0, 32.0, 20.0, 1500.0, 0.0, (), branches)


def make_job() -> TreeNode:
    """Give a job after which the complaint may still be there."""
    branch = Branch(("persists",), 0.3, make_leaf("deep", 0.12))
    return TreeNode("job", ("plain_service",), 0.4, 250.0, 90.0, 900.0, 0.7, (), (branch,))
