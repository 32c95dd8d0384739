"""Records are frozen."""

import pytest
from support.trade import shipped

from shiftlore.knowledge import Strength, name_in_general


def test_strength__cannot_be_changed():
    strength = Strength(0.5, 10)
    with pytest.raises(AttributeError):
        strength.p = 0.6


def test_name_in_general__every_template_has_a_name_without_its_slot() -> None:
    knowledge = shipped()
    named = [
        name_in_general(record)
        for records in (knowledge.causes, knowledge.findings, knowledge.jobs)
        for record in records.values()
    ]
    assert [] == [name for name in named if "{" in name or not name[0].isupper()]


def test_name_in_general__written_or_made_from_the_kind() -> None:
    """Source: the editor's list of names that read badly, such as "No upshift a gear"."""
    findings = shipped().findings
    assert "No upshift into a gear" == name_in_general(findings["shift_missing"])
    assert "Slips in a gear" == name_in_general(findings["slips_gear"])
    assert findings["slips"].label == name_in_general(findings["slips"])
