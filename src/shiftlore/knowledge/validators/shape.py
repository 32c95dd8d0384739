"""K114: a line must lead to fault grades that its target has, and hold from a grade that its parent has.

Passes:

    leads_to:
      fluid_colour: {dark: often, black: sometimes}       # grades: [red, dark, black]
      fluid_smell_burnt: often                            # yes/no

Fails, at the target: an unknown grade, the sound grade, or a single word for a graded target:

    leads_to:
      fluid_colour: often
      fluid_smell_burnt: {strong: often}
"""

from collections.abc import Iterator, Mapping

from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.records import Finding, Knowledge, State, Strength
from shiftlore.knowledge.telling import place_of
from shiftlore.reading import known_words, quoted


def validate_grades(knowledge: Knowledge) -> list[Problem]:
    """Find strengths for grades that do not exist, and `when` grades that the parent lacks."""
    children: dict[str, State | Finding] = {**knowledge.findings, **knowledge.states}
    problems: list[Problem] = []
    for cause in knowledge.causes.values():
        for link in cause.leads_to:
            if link.when is not None:
                problems.append(
                    Problem(link.mark, "K114", "A cause has no grades, so when has no place here", "Take when out.")
                )
    for parent in knowledge.parents:
        for link in parent.leads_to:
            if link.target in children:
                problems += _wrong_grades(link.mark, children[link.target], link.strengths)
    for state in knowledge.states.values():
        for link in state.leads_to:
            if link.when is not None and link.when not in state.grades[1:]:
                what = f"{quoted(link.when)} is no fault grade of {state.id}"
                problems.append(Problem(link.mark, "K114", what, known_words(link.when, state.grades[1:])))
    for child in children.values():
        problems += _wrong_grades(place_of(knowledge, "unexplained", child.id), child, child.unexplained)
    return problems


def _wrong_grades(mark: Mark, child: State | Finding, strengths: Mapping[str, Strength]) -> Iterator[Problem]:
    faults = child.grades[1:]
    for grade in strengths:
        if grade in faults:
            continue
        if grade == child.grades[0]:
            what = f"{quoted(grade)} is the sound grade of {child.id}; a fault cannot bring it about"
            yield Problem(mark, "K114", what, known_words(grade, faults))
        elif grade == "yes":
            yield Problem(
                mark,
                "K114",
                f"{child.id} has grades, so one word does not say which",
                f"Write {{{faults[0]}: often}}, with one of: {', '.join(faults)}.",
            )
        else:
            yield Problem(mark, "K114", f"{child.id} has no grade {quoted(grade)}", known_words(grade, faults))
