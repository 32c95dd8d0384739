"""A check is read with its misreadings as probabilities."""

from shiftlore.knowledge.checks import read_check

TEXT = """\
id: pan_drop
label: Drop the pan
how: Drop it and look.
minutes: 20
reveals: [magnet_paste]
missed: seldom
false_alarm: {counted: {hits: 0, of: 49}}
source: common practice
"""


def test_read_check__misreadings_become_probabilities(taken):
    check, told = taken(read_check, TEXT)
    assert ([], 0.15, 0.01, "standing") == (told, check.missed, check.false_alarm, check.access)


def test_read_check__without_misreadings_is_told(taken):
    _, told = taken(read_check, TEXT.replace("missed: seldom\n", ""))
    assert [("a.yaml:1:1", "K011")] == told


def test_read_check__needs_count_one_if_not_said(taken):
    check, told = taken(read_check, TEXT + "consumables: [{price: pan_gasket}]\n")
    assert ([], 1.0) == (told, check.consumables[0].count)
