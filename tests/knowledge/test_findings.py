"""A finding is read with what people say for it."""

from shiftlore.knowledge.findings import read_finding

LEVEL = """\
id: fluid_level
label: Fluid level
ask: Where does the fluid stand?
grades: [right, high, low]
grade_labels: {high: over full}
group: fluid
got_by: look
together: fluid_look
complaint: false
words: [low on fluid, overfilled]
unexplained: {low: rarely, high: rarely}
source: common practice
"""


def test_read_finding__reads_every_key(taken):
    finding, told = taken(read_finding, LEVEL)
    assert [] == told
    assert (("right", "high", "low"), {"high": "over full"}) == (finding.grades, finding.grade_labels)
    assert ("fluid_look", False, ("low on fluid", "overfilled")) == (finding.together, finding.complaint, finding.words)


def test_read_finding__words_that_yaml_converts_are_told(taken):
    _, told = taken(read_finding, LEVEL.replace("overfilled", "12"))
    assert [("a.yaml:10:23", "K021")] == told


def test_read_finding__a_stand_in_that_fills_in_nothing_is_told(taken):
    _, told = taken(read_finding, LEVEL + "stands_for:\n- {answer: low, answered: no}\n")
    assert [("a.yaml:14:3", "K011")] == told


def test_read_finding__an_unknown_way_to_get_it_is_told(taken):
    _, told = taken(read_finding, LEVEL.replace("got_by: look", "got_by: sight"))
    assert [("a.yaml:7:9", "K014")] == told
