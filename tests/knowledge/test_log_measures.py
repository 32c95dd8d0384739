from support.trade import shipped

from shiftlore.basics.quantities import QUANTITIES
from shiftlore.knowledge.log_measures import LOG_MEASURES
from shiftlore.sheets import EACH


def test_log_measures__each_is_of_a_kind_of_instance() -> None:
    assert all(one.each is None or one.each in EACH for one in LOG_MEASURES.values())


def test_log_measures__what_a_number_is_graded_by_is_in_its_base_unit() -> None:
    for record in shipped().findings.values():
        for line in record.traced:
            if line.number:
                (gauge,) = [one for one in record.measured if one.name == line.number]
                assert next(iter(QUANTITIES[gauge.kind].units)) == LOG_MEASURES[line.by].unit


def test_log_measures__every_column_of_a_log_has_names_in_the_first_language() -> None:
    from shiftlore.knowledge.language import COLUMNS
    from shiftlore.tracing.recordings import CHANNELS

    assert set(COLUMNS) == {*CHANNELS, "none_of_these"} == set(shipped().languages["en"].columns)
