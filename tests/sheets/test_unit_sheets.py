"""Records of unit sheets."""

from pytest import mark

from shiftlore.sheets.unit_sheets import SheetGear


@mark.parametrize(("name", "ident"), [("1", "1"), ("R", "r"), ("2 prime", "2_prime"), ("R-2", "r_2")])
def test_id__is_fit_for_expanded_ids(name: str, ident: str) -> None:
    assert ident == SheetGear(name, None, {}).id
