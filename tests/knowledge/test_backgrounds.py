"""A background keeps the order of its answers; the first is the usual one."""

from shiftlore.knowledge.backgrounds import read_background

TEXT = """\
id: service_record
label: Service record
ask: When was the fluid last changed?
answers:
  in_time: {share: 0.6, label: changed in time}
  never: {share: 0.4}
words: [no service history]
source: judgement
"""


def test_read_background__keeps_the_order(taken):
    background, told = taken(read_background, TEXT)
    assert ([], {"in_time": 0.6, "never": 0.4}) == (told, background.shares)
    assert {"in_time": "changed in time", "never": "never"} == background.grade_labels


def test_read_background__a_bare_yes_as_answer_is_told(taken):
    _, told = taken(read_background, TEXT.replace("never:", "yes:"))
    assert [("a.yaml:6:3", "K021")] == told


def test_read_background__a_share_over_one_is_told(taken):
    _, told = taken(read_background, TEXT.replace("0.4", "40"))
    assert [("a.yaml:6:18", "K016")] == told
