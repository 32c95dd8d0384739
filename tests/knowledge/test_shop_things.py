"""The shop's side is read with its usual values."""

from shiftlore.knowledge.shop_things import (
    read_access,
    read_area,
    read_caution,
    read_follow_up,
    read_price,
    read_shop,
)
from shiftlore.reading import Fields, read_yaml


def test_read_access__without_parent_is_the_vehicle_as_it_stands(taken):
    access, told = taken(read_access, "{id: standing, label: As it stands}")
    assert ([], None, 0.0, 0.0) == (told, access.parent, access.open_minutes, access.close_minutes)


def test_read_follow_up__is_done_in_the_shop_if_not_said(taken):
    follow_up, told = taken(read_follow_up, "{id: level_hot, label: Level, says: Set it hot.}")
    assert ([], "shop") == (told, follow_up.who)


def test_read_follow_up__an_unknown_hand_is_told(taken):
    _, told = taken(read_follow_up, "{id: level_hot, label: Level, says: Set it., who: anybody}")
    assert [("a.yaml:1:51", "K014")] == told


def test_read_price__one_number_stands_for_all_three(taken):
    price, told = taken(read_price, "{id: gasket, label: Gasket, typical: 15}")
    assert ([], 15.0, 15.0, 15.0) == (told, price.low, price.typical, price.high)


def test_read_caution_and_area__need_their_texts(taken):
    assert [("a.yaml:1:1", "K011")] == taken(read_caution, "{id: hot_fluid}")[1]
    assert [("a.yaml:1:1", "K011")] == taken(read_area, "{id: pump}")[1]


def test_read_shop__has_usual_values():
    node, problems = read_yaml('name: A shop\ncurrency: EUR\nlabour_per_hour: 90\nlogo: ""\n')
    shop = read_shop(Fields(node, problems, "shop"))
    assert ([], "", 20.0, 14, "en") == (problems, shop.logo, shop.road_test_minutes, shop.quote_days, shop.locale)
