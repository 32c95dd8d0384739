"""K113: states must not lead back to themselves.

Passes:

    states:
    - {id: fluid_hot, leads_to: {element_slips: sometimes}, ...}

Fails, at the line that closes the circle:

    states:
    - {id: fluid_hot, leads_to: {element_slips: sometimes}, ...}
    - {id: element_slips, leads_to: {fluid_hot: often}, ...}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge


def validate_state_cycles(knowledge: Knowledge) -> list[Problem]:
    """Find the lines that close a circle of states, by a walk that goes to the bottom first."""
    problems: list[Problem] = []
    finished: set[str] = set()
    for start in knowledge.states:
        path: list[str] = []
        waiting = [(start, False)]
        while waiting:
            state_id, done = waiting.pop()
            if done:
                finished.add(path.pop())
            elif state_id not in finished and state_id not in path:
                path.append(state_id)
                waiting.append((state_id, True))
                problems += _closing_lines(state_id, path, knowledge)
                waiting += [
                    (link.target, False)
                    for link in knowledge.states[state_id].leads_to
                    if link.target in knowledge.states
                ]
    return problems


def _closing_lines(state_id: str, path: list[str], knowledge: Knowledge) -> list[Problem]:
    found = []
    for link in knowledge.states[state_id].leads_to:
        if link.target in path:
            circle = " -> ".join([*path[path.index(link.target) :], link.target])
            found.append(
                Problem(
                    link.mark,
                    "K113",
                    f"States lead in a circle: {circle}",
                    "Take out the line that is the weaker of the two.",
                )
            )
    return found
