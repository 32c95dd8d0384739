"""Words that only correct what was said before, read together with that: "third, not second"."""

from dataclasses import replace

from shiftlore.sessions.interview import Interview
from shiftlore.sessions.questions import Proposal, read_said
from shiftlore.words import write_corrections

MOST_SAID = 3
"""So many things said before are tried, the last one first (judgement)."""


def read_again(interview: Interview, text: str) -> tuple[Proposal, ...]:
    """Read words that say nothing by themselves behind what was said before, and give what is said now and was not then; what
    was said then, and no more now, is not so.
    """
    compiled = interview.compiled
    nodes = compiled.expansion.findings
    for said in reversed(interview.case.said[-MOST_SAID:]):
        before, _ = read_said(compiled, said)
        for whole in write_corrections(compiled.knowledge, said, text):
            after, _ = read_said(compiled, whole)
            keys = {one.key for one in after}
            new = tuple(one for one in after if one not in before)
            gone = [one for one in before if one.key not in keys and one.key in nodes]
            if new:
                return (*new, *(replace(one, grade=nodes[one.key].grades[0], doubt=None, when=()) for one in gone))
    return ()
