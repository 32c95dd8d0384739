"""A job is read with what it cures."""

from shiftlore.knowledge.jobs import read_job

TEXT = """\
id: plain_service
label: Service
says: Fresh fluid and filter.
kind: service
minutes: 40
parts: [{price: filter_kit, count: 1}]
cures: {fluid_degraded: usually}
source: common practice
"""


def test_read_job__reads_cures_and_parts(taken):
    job, told = taken(read_job, TEXT)
    assert ([], ("fluid_degraded", 0.8)) == (told, (job.cures[0].cause, job.cures[0].strength.p))
    assert ("filter_kit", 1.0, 0.5, "") == (job.parts[0].price, job.parts[0].count, job.days, job.not_covered)


def test_read_job__an_unknown_kind_is_told(taken):
    _, told = taken(read_job, TEXT.replace("kind: service", "kind: servise"))
    assert [("a.yaml:4:7", "K014")] == told


def test_read_job__a_count_of_nothing_is_told(taken):
    _, told = taken(read_job, TEXT.replace("count: 1", "count: 0"))
    assert [("a.yaml:6:36", "K016")] == told
