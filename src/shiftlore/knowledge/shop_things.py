"""Read the shop's side: access states, follow-ups, cautions, areas, price book, and the shop itself."""

from shiftlore.knowledge.checks import LONGEST_MINUTES
from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.reading import Fields, Node
from shiftlore.knowledge.records import Access, Area, Caution, FollowUp, Price, Shop

FOLLOWED_BY = ("shop", "equipped_shop")
_DEAREST = 1_000_000.0


def read_access(node: Node, intake: Intake) -> Access:
    """Read a state of disassembly; the one without a parent is the vehicle as it stands."""
    fields, access_id = intake.open(node, "access")
    access = Access(
        id=access_id,
        label=fields.text("label"),
        parent=intake.noted_text(fields, "parent", ("access", access_id), "") or None,
        open_minutes=fields.number("open_minutes", 0, LONGEST_MINUTES, 0.0),
        close_minutes=fields.number("close_minutes", 0, LONGEST_MINUTES, 0.0),
        consumables=intake.needs(fields, "consumables"),
        mark=fields.mark,
    )
    fields.text("source", None)
    fields.finish()
    return access


def read_follow_up(node: Node, intake: Intake) -> FollowUp:
    """Read what must be done after a job, and who can do it."""
    fields, follow_up_id = intake.open(node, "follow-up")
    follow_up = FollowUp(
        id=follow_up_id,
        label=fields.text("label"),
        says=fields.text("says"),
        who=fields.word("who", FOLLOWED_BY, "shop"),
        minutes=fields.number("minutes", 0, LONGEST_MINUTES, 0.0),
        consumables=intake.needs(fields, "consumables"),
        mark=fields.mark,
    )
    fields.text("source", None)
    fields.finish()
    return follow_up


def read_caution(node: Node, intake: Intake) -> Caution:
    """Read a warning."""
    fields, caution_id = intake.open(node, "caution")
    caution = Caution(caution_id, fields.text("says"), fields.mark)
    fields.text("source", None)
    fields.finish()
    return caution


def read_area(node: Node, intake: Intake) -> Area:
    """Read an area's plain name."""
    fields, area_id = intake.open(node, "area")
    area = Area(area_id, fields.text("label"), fields.mark)
    fields.finish()
    return area


def read_price(node: Node, intake: Intake) -> Price:
    """Read one line of the price book."""
    fields, price_id = intake.open(node, "price")
    typical = fields.number("typical", 0, _DEAREST)
    price = Price(
        id=price_id,
        label=fields.text("label"),
        low=fields.number("low", 0, _DEAREST, typical),
        typical=typical,
        high=fields.number("high", 0, _DEAREST, typical),
        mark=fields.mark,
    )
    fields.text("source", None)
    fields.finish()
    return price


def read_shop(fields: Fields) -> Shop:
    """Read the shop: what it charges, owns and prints of itself."""
    shop = Shop(
        name=fields.text("name"),
        address=fields.text("address", ""),
        logo=fields.text("logo", ""),
        currency=fields.text("currency"),
        locale=fields.text("locale", "en"),
        labour_per_hour=fields.number("labour_per_hour", 0, 100_000),
        tools=fields.words_list("tools"),
        road_test_minutes=fields.number("road_test_minutes", 0, LONGEST_MINUTES, 20.0),
        comeback_cost=fields.number("comeback_cost", 0, _DEAREST, 0.0),
        quote_days=fields.whole("quote_days", 0, 3650, 14),
        mark=fields.mark,
    )
    fields.text("source", None)
    fields.finish()
    return shop
