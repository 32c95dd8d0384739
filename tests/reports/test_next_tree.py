"""The check order as a tree in text."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.hostile import HOSTILE
from support.plans import make_job, make_leaf, make_tree, planned_case

from shiftlore.planning import Branch, Chance
from shiftlore.planning.trees import count_nodes
from shiftlore.reports.next_text import (
    is_cut_off,
    list_labels,
    render_dot,
    render_mermaid,
    render_tree,
    say_answers,
    write_dot_label,
    write_mermaid_label,
)


def test_render_tree__every_place_says_what_to_do_and_what_it_costs() -> None:
    lines = render_tree(make_tree(), planned_case(), "EUR").splitlines()
    assert "CHECK Level and condition of the fluid at the level plug (32, 20 min; 1,500 in" in lines
    assert "+- 50 % all as it should be" in lines
    assert "|  STOP checking. Overhaul of the transmission, then Used transmission (2,000 in" in lines
    assert "+- 40 % Fluid smells burnt, Fluid colour: black" in lines
    assert "`- 10 % anything else: ask again" in lines


def test_render_tree__plain_text_is_ascii_boxes_are_asked_for() -> None:
    assert render_tree(make_tree(), planned_case(), "EUR").isascii()
    assert "├─ " in render_tree(make_tree(), planned_case(), "EUR", boxes=True)


def test_render_tree__fits_the_width() -> None:
    for width in (50, 80):
        assert max(map(len, render_tree(make_tree(), planned_case(), "EUR", width=width).splitlines())) <= width


def test_render_tree__all_answers_rare_is_said_once() -> None:
    tree = make_tree().vary(branches=(Branch(("x", "y"), 1.0, None, ({}, {})),))
    assert is_cut_off(tree)
    text = render_tree(tree, planned_case(), "EUR")
    assert "then ask again" in " ".join(text.split()) and "`- " not in text


def test_render_tree__every_answer_says_what_it_means_and_why_it_ends() -> None:
    causes = planned_case().causes
    taught = make_tree().branches[0].vary(leaves=(Chance(causes[0], 0.62),), rules_out=causes[1:6])
    tree = make_tree().vary(branches=(taught.vary(node=make_leaf().vary(why="no_check_pays")),))
    labels = [planned_case().expansion.causes[cause].label for cause in causes[:4]]
    text = " ".join(render_tree(tree, planned_case(), "EUR").split())
    assert f"Then likeliest: {labels[0]} 62 %. Ruled out: {', '.join(labels[1:4])} and 2 more." in text
    assert "STOP checking: no check saves much more than it costs. Overhaul" in text
    assert "Now likeliest: " in text.partition("CHECK")[0]


def test_render_tree__work_that_did_not_help_says_what_is_left() -> None:
    causes = planned_case().causes
    job = make_job().vary(branches=(Branch(("persists",), 0.3, None, (), (Chance(causes[0], 0.5),)),))
    label = planned_case().expansion.causes[causes[0]].label
    assert f"Not cured? Then likeliest: {label} 50 %." in " ".join(render_tree(job, planned_case(), "EUR").split())


def test_say_answers__what_many_share_is_said() -> None:
    dark = {"fluid_colour": "dark"}
    shared = tuple(dark | {"fluid_smell_burnt": grade} for grade in ("yes", "no", "yes"))
    branch = Branch(("a", "b", "c"), 0.5, make_leaf(), shared)
    assert "Fluid colour: dark (and more)" == say_answers(make_tree(), branch, planned_case())


def test_list_labels__names_every_check_and_job_of_the_tree() -> None:
    labels = list_labels(make_tree(), planned_case())
    assert {"fluid_look", "plain_service", "overhaul", "used_unit_fit"} == set(labels)


# Source: Mermaid flowchart syntax and the DOT grammar of Graphviz, from memory.
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


@given(HOSTILE, st.integers(3, 40))
def test_write_dot_label__nothing_ends_the_string(text: str, width: int) -> None:
    """Source: the DOT language: in a quoted string only a quote that no backslash stands before ends it."""
    label = write_dot_label(text, width)
    assert re.fullmatch(r'(?:[^"\\]|\\["\\n])*', label)
    shown = re.sub(r"\\(.)", lambda found: "" if found[1] == "n" else found[1], label)
    assert "".join(text.split()) == "".join(shown.split())


@pytest.mark.filterwarnings("ignore")  # its parser is called by an old name
@settings(deadline=None, max_examples=40)
@given(HOSTILE, st.integers(3, 40))
def test_write_dot_label__is_one_label_of_one_box(text: str, width: int) -> None:
    """Source: pydot, which reads DOT by a grammar of its own."""
    pydot = pytest.importorskip("pydot")
    (graph,) = pydot.graph_from_dot_data(f'digraph g {{ n [shape=box, label="{write_dot_label(text, width)}"]; }}')
    (box,) = graph.get_nodes()
    assert "n" == box.get_name() and {"shape", "label"} == set(box.get_attributes()) and not graph.get_edges()


@given(HOSTILE, st.integers(3, 40))
def test_write_mermaid_label__nothing_is_taken_for_markup(text: str, width: int) -> None:
    """Source: Mermaid's manual: in a quoted label any character may stand as #, its number and a semicolon."""
    label = write_mermaid_label(text, width)
    assert re.fullmatch(r"(?:[^\W_]|[ \-.,:;()%+/?']|#\d+;|<br/>)*", label)
    shown = re.sub(r"#(\d+);", lambda found: chr(int(found[1])), label.replace("<br/>", ""))
    assert "".join(text.split()) == "".join(shown.split())


def test_render_tree__says_why_the_list_expects_another_sum() -> None:
    """The list looks a step or two ahead, the tree follows each answer: of one first step they told two sums."""
    tree = make_tree()
    plain, same, other = (
        " ".join(render_tree(tree, planned_case(), "EUR", listed=listed).split())
        for listed in (None, tree.expected_total, tree.expected_total + 12)
    )
    assert plain == same and other.startswith(plain)
    assert f"EUR {tree.expected_total + 12:,.0f} in all of the same first step" in other
