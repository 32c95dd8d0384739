"""The shape of what is written: no circles, grades, instances and types that fit both ends of a line, sound numbers."""

from collections.abc import Iterable, Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from pathlib import PurePath

from shiftlore.basics import UsageProblem
from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.intake import mean_of
from shiftlore.knowledge.records import Cause, Finding, Link, Scope, State, Strength
from shiftlore.knowledge.rulebook import Knowledge
from shiftlore.knowledge.validators.ids import find_unknown, place_of, scopes_of
from shiftlore.reading import known_words, quoted
from shiftlore.sheets import EACH, ID_SLOT, UnitSheet, is_where_word, read_defect, where_words

_ROUNDING = 1e-9
_SHARES_ROUNDING = 0.01


def validate_state_cycles(knowledge: Knowledge) -> list[Problem]:
    """K113: states must not lead back to themselves.

    Passes:
        states:
        - {id: fluid_hot, leads_to: {fluid_thin: sometimes}}
        - {id: fluid_thin, leads_to: {line_pressure_idle: often}}

    Fails, at the line that closes the circle:
        states:
        - {id: fluid_hot, leads_to: {fluid_thin: sometimes}}
        - {id: fluid_thin, leads_to: {fluid_hot: often}}
    """
    states, advice = knowledge.states, "Take out the line that is the weaker of the two."
    lines = {
        name: [link.target for link in reversed(state.leads_to) if link.target in states]
        for name, state in states.items()
    }
    return [
        Problem(link.mark, "K113", f"States lead in a circle: {' -> '.join(circle)}", advice)
        for circle in find_circles(lines)
        for link in knowledge.states[circle[-2]].leads_to
        if link.target == circle[-1]
    ]


def find_circles(lines: Mapping[str, Iterable[str]]) -> Iterator[list[str]]:
    """Walk to the bottom first, and give a circle for each line that leads back to where the walk came from.

    Returns: the ids of the circle in order, the first once more at the end; the line that closes it is the last step.
    """
    if not _has_circle(lines):
        return
    import networkx

    graph = networkx.DiGraph()
    graph.add_nodes_from(lines)
    graph.add_edges_from((start, end) for start, ends in lines.items() for end in ends)
    path: list[str] = []
    for _, end, step in networkx.dfs_labeled_edges(graph):
        if step == "forward":
            path.append(end)
        elif step == "reverse":
            path.pop()
        elif end in path:
            yield [*path[path.index(end) :], end]


def _has_circle(lines: Mapping[str, Iterable[str]]) -> bool:
    """Tell whether there is any circle, with what Python has: the graph library is loaded only where there is one."""
    try:
        TopologicalSorter(lines).prepare()
    except CycleError:
        return True
    return False


def validate_access_states(knowledge: Knowledge) -> list[Problem]:
    """K126: every state of disassembly must lead back, parent by parent, to the vehicle as it stands.

    Passes:
        access:
        - {id: body_out, label: Valve body out, parent: pan_off, open_minutes: 20, close_minutes: 25}

    Fails, at the parent that is unknown or leads in a circle:
        access:
        - {id: pan_off, label: Pan off, parent: pan_off, open_minutes: 20, close_minutes: 25}
    """
    parents = {
        one.id: [one.parent] for one in knowledge.access.values() if one.parent and one.parent in knowledge.access
    }
    problems, advice = find_unknown(knowledge, "K126"), "Let one of them have no parent."
    for name in _go_round(parents):
        mark, what = place_of(knowledge, "access", name, "parent"), f"The parents of {name} go round in a circle"
        problems.append(Problem(mark, "K126", what, advice))
    return problems


def _go_round(parents: Mapping[str, list[str]]) -> list[str]:
    """List what stands in a circle or leads into one."""
    if not _has_circle(parents):
        return []
    import networkx

    graph = networkx.DiGraph((start, end) for start, ends in parents.items() for end in ends)
    circles = {one for circle in networkx.simple_cycles(graph) for one in circle}
    return [one for one in parents if one in circles or circles & networkx.descendants(graph, one)]


def validate_grades(knowledge: Knowledge) -> list[Problem]:
    """K114: a line must lead to fault grades that its target has, and hold from a grade that its parent has.

    Passes:
        leads_to:
          fluid_colour: {dark: often, black: sometimes}       # grades: [red, dark, black]
          line_pressure_idle: often                           # yes/no

    Fails, at the target: an unknown grade, the sound grade, or a single word for a graded target:
        leads_to:
          fluid_colour: often
          line_pressure_idle: {strong: often}
    """
    children: dict[str, State | Finding] = {**knowledge.findings, **knowledge.states}
    problems = [
        Problem(link.mark, "K114", "A cause has no grades, so when has no place here", "Take when out.")
        for cause in knowledge.causes.values()
        for link in cause.leads_to
        if link.when is not None
    ]
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
    sound, *faults = child.grades
    for grade in strengths:
        if grade in faults:
            continue
        advice = known_words(grade, faults)
        if grade == sound:
            what = f"{quoted(grade)} is the sound grade of {child.id}; a fault cannot bring it about"
        elif grade == "yes":
            what = f"{child.id} has grades, so one word does not say which"
            advice = f"Write {{{faults[0]}: often}}, with one of: {', '.join(faults)}."
        else:
            what = f"{child.id} has no grade {quoted(grade)}"
        yield Problem(mark, "K114", what, advice)


def validate_instances(knowledge: Knowledge) -> list[Problem]:
    """K115: `where` must be a word that fits the kinds at the two ends of its line.

    Passes (an `each: element` cause, an `each: gear` finding):
        each: element
        leads_to: {gear_slips: {strength: often, where: applied}}

    Fails, at the target:
        each: element
        leads_to: {gear_slips: {strength: often, where: switching}}
    """
    each_of = {record.id: record.scope.each for record in knowledge.children}
    return [
        problem
        for parent in knowledge.parents
        for link in parent.leads_to
        if link.target in each_of
        for problem in _wrong_instances(link, parent.scope.each, each_of[link.target])
    ]


def _wrong_instances(link: Link, parent_each: str | None, target_each: str | None) -> Iterator[Problem]:
    if link.where is not None and not is_where_word(link.where, parent_each, target_each):
        ends = f"from {_named(parent_each)} to {_named(target_each)}"
        allowed = where_words(parent_each, target_each)
        advice = known_words(link.where, allowed) if allowed else "Take where out: neither end is a template."
        yield Problem(link.mark, "K115", f"A line {ends} cannot say where: {quoted(link.where)}", advice)
    if link.by_torque and (parent_each, target_each) != ("element", "gear"):
        what = "by_torque needs a line from each element to each gear"
        yield Problem(link.mark, "K115", what, "Take by_torque out.")


def _named(each: str | None) -> str:
    return "a single record" if each is None else f"each {each.replace('_', ' ')}"


def validate_types(knowledge: Knowledge) -> list[Problem]:
    """K127: `types` must be types that the record's `each` has.

    Passes:
        each: element
        types: [clutch, brake]

    Fails, at the type, or where a record that is no template has types:
        each: element
        types: [cluch]                 # Nearest: clutch
    """
    return [problem for owner, scope in scopes_of(knowledge) for problem in _wrong_types(knowledge, owner, scope)]


def _wrong_types(knowledge: Knowledge, owner: tuple[str, str], scope: Scope) -> Iterator[Problem]:
    allowed = EACH.get(scope.each or "", ())
    for name in scope.types:
        if name not in allowed:
            mark = place_of(knowledge, *owner, "types", name)
            what = f"{quoted(name)} is no type of {(scope.each or 'a record without each').replace('_', ' ')}"
            yield Problem(mark, "K127", what, known_words(name, allowed) if allowed else "Take types out, or add each.")


def validate_probabilities(knowledge: Knowledge) -> list[Problem]:
    """K116: the strengths of one line's grades must not add up to more than 1.

    Passes:
        leads_to: {fluid_colour: {dark: often, black: sometimes}}          # .65 + .35

    Fails, at the target, or at `unexplained`:
        leads_to: {fluid_colour: {dark: always, black: usually}}           # .98 + .80
    """
    found = [(link.mark, mean_of(link.strengths)) for parent in knowledge.parents for link in parent.leads_to]
    found += [(place_of(knowledge, "unexplained", one.id), mean_of(one.unexplained)) for one in knowledge.children]
    advice = "Choose weaker words, so that together they stay at 1 or below."
    return [
        Problem(mark, "K116", f"The grades add up to {total:.2f}, more than always", advice)
        for mark, total in found
        if total > 1 + _ROUNDING
    ]


def validate_shares(knowledge: Knowledge) -> list[Problem]:
    """K124: the shares of a background's answers must add up to 1, to within a hundredth.

    Passes:
        backgrounds:
        - {id: service, answers: {in_time: {share: 0.6}, never: {share: 0.4}}}

    Fails, at the answers:
        backgrounds:
        - {id: service, answers: {in_time: {share: 0.6}, never: {share: 0.6}}}
    """
    problems = []
    for name, total in ((one.id, sum(one.shares.values())) for one in knowledge.backgrounds.values()):
        if abs(total - 1) > _SHARES_ROUNDING + _ROUNDING:
            mark, what = (
                place_of(knowledge, "background", name, "answers"),
                f"The shares of {name} add up to {total:.2f}",
            )
            problems.append(Problem(mark, "K124", what, "Change them so that they add up to 1."))
    return problems


def validate_lives(knowledge: Knowledge) -> list[Problem]:
    """K135: a record must fit an answer of a background; a guess must be of its answers, add up to 1, and be by what is known.

    Passes:
        checks:
        - {id: pan_drop, fits: {usage: towing}}                     # backgrounds.yaml has usage with the answer towing
        backgrounds:
        - {id: usage, guessed: [{is: {normal: 0.1, towing: 0.9}, told: {fluid_colour: dark}}]}

    Fails, at the answer, or the guess:
        checks:
        - {id: pan_drop, fits: {usage: often}}
    """
    lives = knowledge.backgrounds
    answers = {key: tuple(one.shares) for key, one in lives.items()}
    known = answers | {key: one.grades for key, one in knowledge.findings.items()}
    asked = [(place_of(knowledge, *owner, "fits", name), answers, pair) for owner, scope in scopes_of(knowledge)
             for pair in scope.fits for name in pair[:1]]  # fmt: skip
    guesses = [(one.id, guess) for one in lives.values() for guess in one.guessed]
    asked += [(guess.mark, known, pair) for _, guess in guesses for pair in guess.told.items()]
    asked += [(guess.mark, answers, (name, answer)) for name, guess in guesses for answer in guess.chances]
    wrong = [(mark, f"There is no {name} with the answer {quoted(answer)}", known_words(answer, among.get(name, ())))
             for mark, among, (name, answer) in asked if answer not in among.get(name, ())]  # fmt: skip
    totals = [(guess.mark, sum(guess.chances.values())) for _, guess in guesses]
    wrong += [(mark, f"The chances add up to {total:.2f}", "Change them so that they add up to 1.")
              for mark, total in totals if abs(total - 1) > _ROUNDING]  # fmt: skip
    return [Problem(mark, "K135", what, advice) for mark, what, advice in wrong]


def validate_logo(knowledge: Knowledge) -> list[Problem]:
    """K132: the logo of the shop stands in the knowledge folder; a shop's own file may name any.

    Passes:
        logo: logo.svg

    Fails, at the shop:
        logo: /home/somebody/letter.svg
    """
    shop = knowledge.shop
    if shop is None or not (PurePath(shop.logo).is_absolute() or ".." in PurePath(shop.logo).parts):
        return []
    advice = "Put the picture into the folder and write its name, or set your own: shiftlore shop logo=FILE."
    return [Problem(shop.mark, "K132", f"The logo {quoted(shop.logo)} lies outside the knowledge folder", advice)]


def validate_price_order(knowledge: Knowledge) -> list[Problem]:
    """K125: a price must go up from low over typical to high.

    Passes:
        prices:
        - {id: filter_kit, label: Filter kit, low: 8, typical: 15, high: 30}

    Fails, at the price's id:
        prices:
        - {id: filter_kit, label: Filter kit, low: 18, typical: 15, high: 30}
    """
    problems, advice = [], "Write low, then typical, then high, each no less than the one before."
    for price in knowledge.prices.values():
        if not price.low <= price.typical <= price.high:
            what = f"{price.id} costs {price.low:g}, {price.typical:g}, {price.high:g}, which is out of order"
            problems.append(Problem(place_of(knowledge, "price", price.id, "id"), "K125", what, advice))
    return problems


def validate_simulated(knowledge: Knowledge) -> list[Problem]:
    """K134: a defect under `simulated` must be one that some unit's sheet allows, {id} standing for the instance.

    Passes (with `each: element` also "slip:{id}:0.8"):
        simulated: ["low_pressure:0.6"]

    Fails, where the cause begins:
        simulated: ["low_presure:0.6"]
    """
    return [
        Problem(cause.mark, "K134", f"simulated: {why[:-1]}", "Correct it; shiftlore trace --simulate lists them.")
        for cause in knowledge.causes.values()
        for text in cause.simulated
        if (why := _say_unread(cause, text, knowledge.sheets.values()))
    ]


def _say_unread(cause: Cause, text: str, sheets: Iterable[UnitSheet]) -> str:
    """Say why no sheet allows a defect, or nothing where one does."""
    why = ""
    for sheet in sheets:
        parts = {"element": sheet.elements, "solenoid": sheet.solenoids, "speed_sensor": sheet.speed_sensors}
        known = parts.get(cause.scope.each or "", {"": None})
        for part in known:
            try:
                read_defect(text.replace(ID_SLOT, part), sheet)
            except UsageProblem as problem:
                why = why or str(problem)
            else:
                return ""
    return why
