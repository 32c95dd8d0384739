"""Take answers back one at a time, to show what speaks for and against: as many as possible in one batch of rows."""

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from shiftlore.inference.reduction import Answers, find_relevant
from shiftlore.inference.rows import Rows, Term, Vectors, multiply_vectors
from shiftlore.inference.situations import Evaluation, Situation
from shiftlore.network import Network, NoisyMax

MakeSituation = Callable[[Answers, Sequence[str]], Situation]
"""Makes the situation of answers, with variables that must keep a place."""


def without(answers: Answers, names: Sequence[str]) -> Answers:
    """Take back some answers."""
    return Answers(
        {name: state for name, state in answers.hard.items() if name not in names},
        {name: likelihood for name, likelihood in answers.soft.items() if name not in names},
    )


def find_sound(network: Network, answers: Answers) -> list[str]:
    """Name the noisy findings seen to be sound with nothing answered below them: products, easily left out."""
    above = find_relevant(network, [parent for name in answers.names for parent in network.gates[name].parents])
    return [
        name
        for name, state in answers.hard.items()
        if state == 0 and name not in above and isinstance(network.gates[name], NoisyMax)
    ]


def retract_in_rows(
    network: Network, answers: Answers, needed: Sequence[str], watch: Sequence[str], make: MakeSituation
) -> tuple[list[str], Evaluation] | None:
    """Take back every answer that a row can take back.

    The situation is made without the sound findings; each row multiplies all of them but one back in. A telling
    finding is released in its row instead.

    Args:
        network: the network.
        answers: all answers.
        needed: variables that must keep a place.
        watch: watched variables.
        make: makes situations.
    Returns: the answers taken back, and the rows in that order with their normalised log_p; None if there are none.
    """
    sound = find_sound(network, answers)
    hidden = find_relevant(network, [parent for name in sound for parent in network.gates[name].parents])
    situation = make(
        without(answers, sound), sorted({*needed, *(name for name in hidden if not network.is_root(name))})
    )
    above = find_relevant(network, [parent for name in answers.names for parent in network.gates[name].parents])
    telling = [name for name in situation.world.releasable if name not in above]
    if not sound and not telling:
        return None
    terms = {name: situation.cumulate(name, 0, Term(1.0, {})) for name in sound}
    products = [*_leave_each_out([terms[name] for name in sound])]
    products += [_multiply_all([terms[name] for name in sound])] * len(telling)
    released: Mapping[str, int] = {name: len(sound) + index for index, name in enumerate(telling)}
    vectors: list[Vectors] = [term.vectors for term in products]
    run = situation.run(Rows(len(products), vectors, released=released), watch)
    log_weights = np.log([term.weight for term in products])
    return [*sound, *telling], Evaluation(run.log_p + log_weights - situation.log_norm, run.p_present)


def _multiply_all(terms: Sequence[Term]) -> Term:
    """Multiply terms."""
    product = Term(1.0, {})
    for term in terms:
        product = Term(product.weight * term.weight, multiply_vectors(product.vectors, term.vectors))
    return product


def _leave_each_out(terms: Sequence[Term]) -> list[Term]:
    """Multiply all terms but one, for each of them; without a division, which a strength of 1 would spoil."""
    if len(terms) < 2:
        return [Term(1.0, {}) for _ in terms]
    half = len(terms) // 2
    left, right = terms[:half], terms[half:]
    all_left, all_right = _multiply_all(left), _multiply_all(right)
    return [_multiply_all([part, all_right]) for part in _leave_each_out(left)] + [
        _multiply_all([part, all_left]) for part in _leave_each_out(right)
    ]
