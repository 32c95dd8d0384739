"""The keys of a mapping are read by name, and no key goes unread."""

from shiftlore.reading import Fields, read_yaml


def opened(text):
    root, problems = read_yaml(text, "a.yaml")
    return Fields(root, problems, "check"), problems


def told(problems):
    return [(str(problem.mark), problem.code) for problem in problems]


def test_finish__names_the_nearest_key():
    fields, problems = opened("id: pan_drop\nminuts: 3\n")
    fields.ident("id")
    fields.number("minutes", default=None)
    fields.finish()
    assert [("a.yaml:2:1", "K012")] == told(problems)
    assert "Did you mean minutes?" == problems[0].write_instead


def test_finish__lists_the_keys_when_none_is_near():
    fields, problems = opened("id: pan_drop\nzzz: 3\n")
    fields.ident("id")
    fields.finish()
    assert "Known here: id." == problems[0].write_instead


def test_finish__says_an_before_a_vowel():
    root, problems = read_yaml("x: 1\n")
    Fields(root, problems, "answer").finish()
    assert 'An answer has no key "x"' == problems[0].what


def test_whole__a_wrong_value_that_may_be_missing_counts_as_missing():
    fields, _ = opened("speeds: .nan\nheight: high\n")
    assert (None, None) == (fields.whole("speeds", 1, 12, None), fields.number("height", 1.0, None, None))


def test_text__a_required_key_is_missed():
    fields, problems = opened("a: 1\n")
    assert "" == fields.text("label")
    assert [("a.yaml:1:1", "K011")] == told(problems)


def test_text__an_empty_place_counts_as_missing():
    fields, problems = opened("label:\n")
    assert "here" == fields.text("label", default="here")
    assert [] == problems


def test_words_list__marks_each_bad_member():
    fields, problems = opened("w: [always, 3.10, always]\n")
    assert ("always",) == fields.words_list("w")
    assert [("a.yaml:1:13", "K021"), ("a.yaml:1:19", "K018")] == told(problems)


def test_words_list__refuses_a_single_word():
    fields, problems = opened("w: always\n")
    assert () == fields.words_list("w")
    assert [("a.yaml:1:4", "K013")] == told(problems)


def test_mapping__opens_what_stands_below():
    fields, problems = opened("driven_on:\n  within_km: 30\n")
    assert 30 == fields.mapping("driven_on").whole("within_km", low=0)
    assert [] == problems


def test_pairs__gives_keys_places_and_values():
    fields, _ = opened("leads_to:\n  a_state: often\n  b_state: rarely\n")
    pairs = [(key, str(mark), value.text) for key, mark, value in fields.pairs("leads_to")]
    assert [("a_state", "a.yaml:2:3", "often"), ("b_state", "a.yaml:3:3", "rarely")] == pairs


def test_pairs__a_key_that_yaml_converts_is_a_problem():
    fields, problems = opened("grades:\n  no: often\n")
    assert [] == fields.pairs("grades")
    assert [("a.yaml:2:3", "K021")] == told(problems)


def test_fields__a_list_where_keys_should_be():
    root, problems = read_yaml("[1, 2]", "a.yaml")
    fields = Fields(root, problems, "cause")
    fields.finish()
    assert [("a.yaml:1:1", "K013")] == told(problems)


def test_records__opens_each_member():
    fields, problems = opened("checks:\n- id: one\n- two\n")
    assert ["one", ""] == [record.ident("id") for record in fields.records("checks", "check")]
    assert [("a.yaml:3:3", "K013"), ("a.yaml:3:3", "K011")] == told(problems)
