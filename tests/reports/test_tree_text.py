"""The check order as a tree in text."""

from dataclasses import replace

from support.plans import make_leaf, make_tree, planned_case

from shiftlore.planning import Branch
from shiftlore.reports.tree_text import is_cut_off, list_labels, render_tree, say_answers


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
        assert max(map(len, render_tree(make_tree(), planned_case(), "EUR", width).splitlines())) <= width


def test_render_tree__all_answers_rare_is_said_once() -> None:
    tree = replace(make_tree(), branches=(Branch(("x", "y"), 1.0, None, ({}, {})),))
    assert is_cut_off(tree)
    text = render_tree(tree, planned_case(), "EUR")
    assert "then ask again" in " ".join(text.split()) and "`- " not in text


def test_say_answers__what_many_share_is_said() -> None:
    dark = {"fluid_colour": "dark"}
    shared = tuple(dark | {"fluid_smell_burnt": grade} for grade in ("yes", "no", "yes"))
    branch = Branch(("a", "b", "c"), 0.5, make_leaf(), shared)
    assert "Fluid colour: dark (and more)" == say_answers(make_tree(), branch, planned_case())


def test_list_labels__names_every_check_and_job_of_the_tree() -> None:
    labels = list_labels(make_tree(), planned_case())
    assert {"fluid_look", "plain_service", "overhaul", "used_unit_fit"} == set(labels)
