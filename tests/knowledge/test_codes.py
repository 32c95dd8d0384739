"""A trouble code has the form of SAE J2012."""

import pytest

from shiftlore.knowledge.codes import CODE_FORM, read_code


def test_read_code__reads_every_key(taken):
    code, told = taken(read_code, '{code: P0732, means: Gear 2 ratio, finding: ratio, instance: "2"}')
    assert ([], "P0732", "2") == (told, code.code, code.instance)


def test_read_code__a_bare_number_as_instance_is_told(taken):
    _, told = taken(read_code, "{code: P0732, means: Gear 2 ratio, finding: ratio, instance: 2}")
    assert [("a.yaml:1:62", "K021")] == told


# SAE J2012: a letter for body, chassis, powertrain or network, a digit 0 to 3, three hexadecimal digits.
@pytest.mark.parametrize("code", ["P0732", "U0100", "C0040", "B10A5", "P2A0F", "P3FFF"])
def test_code_form__takes(code):
    assert CODE_FORM.fullmatch(code)


@pytest.mark.parametrize("code", ["P4000", "P073", "P07322", "X0732", "p0732", "P07G2"])
def test_code_form__refuses(code):
    assert not CODE_FORM.fullmatch(code)
