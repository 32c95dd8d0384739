"""The check order as Mermaid and DOT, read back by their grammar as far as it is used.

Source: Mermaid flowchart syntax and the DOT grammar of Graphviz, from memory.
"""

import re

from support.plans import make_tree, planned_case

from shiftlore.planning import count_nodes
from shiftlore.reports.tree_graph import render_dot, render_mermaid

FOLDED = 1


def test_render_mermaid__every_line_is_a_box_or_an_arrow() -> None:
    head, *lines = render_mermaid(make_tree(), planned_case()).splitlines()
    assert "flowchart TD" == head
    boxes = [line for line in lines if re.fullmatch(r'    n[_0-9]*(\["|\[\["|\(\[")[^"]+("\]|"\]\]|"\]\))', line)]
    arrows = [line for line in lines if re.fullmatch(r'    n[_0-9]* -->\|"[^"]+"\| n[_0-9]+', line)]
    assert count_nodes(make_tree()) + FOLDED == len(boxes)
    assert len(lines) == len(boxes) + len(arrows) and len(arrows) == len(boxes) - 1


def test_render_dot__boxes_and_arrows_belong_together() -> None:
    text = render_dot(make_tree(), planned_case())
    assert text.startswith("digraph check_order {") and text.endswith("}")
    boxes = set(re.findall(r"^    (n[_0-9]*) \[shape=", text, re.M))
    arrows = re.findall(r"^    (n[_0-9]*) -> (n[_0-9]+) \[label=", text, re.M)
    assert {end for arrow in arrows for end in arrow} == boxes
    assert len(boxes) - 1 == len(arrows) == len({end for _, end in arrows})


def test_render_mermaid__signs_of_its_own_are_written_as_codes() -> None:
    assert "`" not in render_mermaid(make_tree(), planned_case())
