"""Every file is found and read, every problem gathered, the numbers right; the cache gives the same and is never trusted."""

import hashlib
import json
import os
import subprocess
import sys
import types
import typing
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import shiftlore.knowledge.loading as cache
from shiftlore.basics import KnowledgeError, Mark
from shiftlore.knowledge import Knowledge, Link, Stand, Strength, collect_knowledge, find_knowledge, load_knowledge
from shiftlore.knowledge.intake import NO_WORDS
from shiftlore.knowledge.loading import collect_files, decode_knowledge, encode_knowledge


@pytest.fixture
def clean(folder):
    knowledge, problems = collect_knowledge(folder())
    assert [] == problems
    return knowledge


def test_load_knowledge__reads_every_kind(clean):
    sizes = {
        name: len(getattr(clean, name)) for name in ("causes", "states", "findings", "codes", "backgrounds", "checks")
    }
    assert {"causes": 2, "states": 2, "findings": 4, "codes": 1, "backgrounds": 1, "checks": 1} == sizes
    assert (1, 2, 1, 1, 1, 1) == tuple(
        len(part) for part in (clean.jobs, clean.access, clean.follow_ups, clean.cautions, clean.prices, clean.textbook)
    )
    assert ("A shop", "", 90.0, ("jack",)) == (
        clean.shop.name,
        clean.shop.address,
        clean.shop.labour_per_hour,
        clean.shop.tools,
    )


def test_load_knowledge__words_become_numbers(clean):
    link = clean.causes["worn_pump"].leads_to[1]
    assert {"dark": 0.65, "black": 0.35} == {grade: strength.p for grade, strength in link.strengths.items()}
    assert 0.15 == clean.checks["pan_drop"].missed
    assert (0.005, "uncommon") == (
        clean.causes["worn_pump"].per_thousand.p,
        clean.causes["worn_pump"].per_thousand.word,
    )
    assert 2.2 == clean.causes["worn_pump"].wear


def test_load_knowledge__a_count_becomes_a_beta(clean):
    # Jeffreys 1946: 7 of 9 give Beta(7.5, 2.5), mean 0.75, weight 10.
    strength = clean.causes["worn_lining"].leads_to[0].strengths["yes"]
    assert (0.75, 10.0, None) == (strength.p, strength.weight, strength.word)


def test_load_knowledge__per_thousand_becomes_a_share(clean):
    assert 0.012 == pytest.approx(clean.causes["worn_lining"].per_thousand.p, abs=1e-12)


def test_load_knowledge__long_lines(clean):
    link = clean.states["element_slips"].leads_to[0]
    assert ("gear_slips", "applied", None, True) == (link.target, link.where, link.when, link.by_torque)
    assert "states/all.yaml:11:5" == str(link.mark)


def test_load_knowledge__a_list_of_lines_to_one_target(folder):
    states = """\
states:
- id: pressure
  label: Pressure
  grades: [right, low, none_at_all]
  source: judgement
  leads_to:
    gear_slips:
    - {strength: often, where: any, when: none_at_all}
    - {strength: sometimes, when: low}
"""
    knowledge, problems = collect_knowledge(folder({"states/more.yaml": states}))
    assert [] == problems
    links = knowledge.states["pressure"].leads_to
    assert [("any", "none_at_all"), (None, "low")] == [(link.where, link.when) for link in links]
    assert all(isinstance(link, Link) for link in links)


def test_load_knowledge__stand_ins(clean):
    stand = clean.findings["no_codes"].stands_for[0]
    assert Stand("yes", ("drive",), ("line_pressure_idle",), "no", stand.mark) == stand


def test_load_knowledge__answers_of_a_textbook_case(clean):
    expected = {"fluid_colour": "dark", "gear_slips_2": "yes", "P0732": "yes"}
    expected["line_pressure_idle"] = {"is": "yes", "doubt": "think_so"}
    assert expected == clean.textbook["worn_pump"].findings


def test_load_knowledge__a_sentence_may_stand_for_a_look_alike(clean):
    assert "A worn pump spoils every gear." == clean.causes["worn_lining"].looks_like[0].because


def test_load_knowledge__the_source_of_a_file_counts_for_its_records(clean):
    assert "common practice" == clean.findings["gear_slips"].source


def test_load_knowledge__raises_with_all_problems(folder):
    path = folder({"prices.yaml": "prices:\n- {id: a, label: A, typical: 1e3}\n", "cautions.yaml": "cautions: [\n"})
    with pytest.raises(KnowledgeError) as caught:
        load_knowledge(path)
    codes = [problem.code for problem in caught.value.problems]
    assert {"K004", "K021", "K109", "K110", "K111"} == set(codes)


def test_load_knowledge__warnings_raise_nothing(folder):
    path = folder(
        {"findings/more.yaml": "findings:\n- {id: x, label: X, ask: X, group: g, got_by: owner, source: s}\n"}
    )
    assert "x" in load_knowledge(path).findings


def test_collect_knowledge__a_broken_file_spoils_no_other(folder):
    knowledge, problems = collect_knowledge(folder({"codes/all.yaml": "codes: [&a 1]"}))
    assert ["K006"] == [problem.code for problem in problems if problem.mark.file == "codes/all.yaml"]
    assert 4 == len(knowledge.findings)


@pytest.mark.parametrize(
    ("file", "old", "new", "place", "code"),
    [
        ("causes/pump/worn_pump.yaml", "often\n", "offen\n", "11:22", "K014"),
        ("causes/pump/worn_pump.yaml", "often\n", "0.7\n", "11:22", "K019"),
        ("causes/pump/worn_pump.yaml", "often\n", "no\n", "11:22", "K021"),
        ("causes/pump/worn_pump.yaml", "{towing: 1.8}", "{towing: 0}", "9:19", "K016"),
        ("causes/pump/worn_pump.yaml", "uncommon", "5", "6:13", "K019"),
        ("causes/pump/worn_pump.yaml", "status: draft", "status: done", "5:9", "K014"),
        ("causes/pump/worn_pump.yaml", "source: common practice\n", "", "1:1", "K011"),
        ("causes/pump/worn_pump.yaml", "label: Worn pump", "labl: Worn pump", "2:1", "K012"),
        ("causes/pump/worn_pump.yaml", "severity: gets_worse", "severity: bad", "18:13", "K014"),
        ("causes/elements/worn_lining.yaml", "hits: 7", "hits: 10", "10:35", "K016"),
        ("causes/elements/worn_lining.yaml", "each: element", "each: elements", "5:7", "K014"),
        ("causes/elements/worn_lining.yaml", "within_km: 3000", "within_km: 3e3", "13:68", "K021"),
        ("findings/all.yaml", "grades: [red, dark, black]", "grades: [red]", "20:11", "K016"),
        ("findings/all.yaml", "{red: red and clear}", "{rot: red and clear}", "21:18", "K014"),
        ("findings/all.yaml", "got_by: look", "got_by: looking", "23:11", "K014"),
        ("codes/all.yaml", "P0732", "p732", "2:10", "K015"),
        ("checks/all.yaml", "minutes: 20", "minutes: 1:30", "5:12", "K021"),
        ("checks/all.yaml", "count: 1", "count: one", "7:44", "K013"),
        ("jobs/all.yaml", "kind: overhaul", "kind: overhal", "5:9", "K014"),
        ("access.yaml", "id: pan_off", "id: pan off", "3:8", "K015"),
        ("shop.yaml", "labour_per_hour: 90", "labour_per_hour: -90", "4:18", "K016"),
        ("follow_ups.yaml", "follow_ups:", "followups:", "1:1", "K012"),
        ("textbook/worn_pump.yaml", "doubt: think_so", "doubt: perhaps", "7:100", "K014"),
    ],
)
def test_collect_knowledge__tells_the_exact_place(told, file, old, new, place, code):
    assert (f"{file}:{place}", code, "error") in told(file, old, new)


def test_collect_knowledge__an_id_used_twice_names_the_first(folder):
    more = "cautions:\n- {id: hot_fluid, says: Hot.}\n- {id: hot_fluid, says: Hot.}\n"
    _, problems = collect_knowledge(folder({"cautions.yaml": more}))
    assert [("cautions.yaml:3:8", "K101")] == [(str(problem.mark), problem.code) for problem in problems]
    assert "cautions.yaml, line 2" in problems[0].write_instead


@pytest.mark.parametrize("name", ["cause/a.yaml", "wrods.yaml", "findings/a.yml"])
def test_collect_knowledge__a_file_that_nothing_reads_is_told(folder, name):
    _, problems = collect_knowledge(folder({name: "a: 1\n"}))
    assert [(f"{name}:0:0", "K030")] == [(str(problem.mark), problem.code) for problem in problems]


def test_collect_knowledge__templates_and_notes_are_passed_over(folder):
    _, problems = collect_knowledge(folder({"causes/_template.yaml": "nonsense: [", "units/README.md": "# no"}))
    assert [] == problems


def test_collect_knowledge__without_words_says_so(folder):
    path = folder()
    (path / "words.yaml").unlink()
    _, problems = collect_knowledge(path)
    assert ("words.yaml:0:0", "K001") in [(str(problem.mark), problem.code) for problem in problems]


def test_collect_knowledge__a_missing_folder_is_told(tmp_path):
    _, problems = collect_knowledge(tmp_path / "none")
    assert "There is no such knowledge folder" == problems[0].what


@pytest.mark.skipif(os.name != "posix" or os.getuid() == 0, reason="the superuser reads everything")
def test_collect_knowledge__an_unreadable_file_is_told(folder):
    path = folder()
    (path / "prices.yaml").chmod(0)
    _, problems = collect_knowledge(path)
    assert ("prices.yaml:0:0", "K001") in [(str(problem.mark), problem.code) for problem in problems]


def test_find_knowledge__finds_the_folder_beside_the_source():
    assert (find_knowledge() / "words.yaml").is_file()


def test_collect_files__in_the_order_of_names_with_their_kinds(folder):
    files, problems = collect_files(folder())
    assert [] == problems
    assert ["access", "areas", "backgrounds", "causes", "causes"] == [file.kind for file in files[:5]]
    assert ["causes/elements/worn_lining.yaml", "causes/pump/worn_pump.yaml"] == [file.name for file in files[3:5]]
    assert b"id: worn_lining" == files[3].content[:15]


def test_collect_files__passes_over_hidden_names_and_linked_folders(folder, tmp_path):
    path = folder({"causes/_draft/x.yaml": "id: x", ".git/x.yaml": "id: x"})
    (path / "causes" / "loop").symlink_to(path, target_is_directory=True)
    files, problems = collect_files(path)
    assert ([], 2) == (problems, sum(file.kind == "causes" for file in files))


def test_collect_files__names_the_nearest_folder(folder):
    _, problems = collect_files(folder({"finding/x.yaml": "findings: []"}))
    assert "Nearest: findings/" in problems[0].write_instead


def test_find_knowledge__is_a_folder_with_causes():
    assert (find_knowledge() / "causes").is_dir()


HEAVY = ("yaml", "numpy", "networkx", "importlib.metadata", "click", "pgmpy")
SCRIPT = "import sys; from shiftlore.knowledge import load_knowledge; load_knowledge(sys.argv[1]); print(*sys.modules)"


def modules_of(path, home):
    environment = {**os.environ, "XDG_CACHE_HOME": str(home), "PYTHONPATH": os.pathsep.join(sys.path)}
    environment.pop("SHIFTLORE_CACHE", None)
    run = [sys.executable, "-c", SCRIPT, str(path)]
    return subprocess.run(run, env=environment, capture_output=True, text=True, check=True).stdout.split()


def test_load_knowledge__with_a_warm_cache_imports_nothing_heavy(folder, tmp_path_factory):
    path, home = folder(), tmp_path_factory.mktemp("home")
    assert "yaml" in modules_of(path, home)
    assert [] == [name for name in HEAVY if name in modules_of(path, home)]


@pytest.fixture
def cached(folder, tmp_path_factory, monkeypatch):
    """Give the clean folder, loaded once, and the cache file that this left."""
    home = tmp_path_factory.mktemp("home")
    monkeypatch.setenv("XDG_CACHE_HOME", str(home))
    monkeypatch.delenv("SHIFTLORE_CACHE", raising=False)
    path = folder()
    load_knowledge(path)
    (file,) = (home / "shiftlore").glob("*.json")
    return path, file


def names_of(file):
    return sorted(one.name for one in file.parent.iterdir())


def test_load_cached__gives_the_same_knowledge(cached, monkeypatch):
    path, _ = cached
    warm = load_knowledge(path)
    monkeypatch.setenv("SHIFTLORE_CACHE", "off")
    cold = load_knowledge(path)
    assert ({}, cold.causes, cold.findings, cold.words) == (warm.places, warm.causes, warm.findings, warm.words)
    assert [str(one.mark) for one in cold.findings.values()] == [str(one.mark) for one in warm.findings.values()]


def test_load_cached__is_really_used(cached):
    path, file = cached
    _, body = file.read_bytes().split(b"\n", 1)
    changed = body.replace(b"Worn pump", b"Sham pump")

    file.write_bytes(hashlib.blake2b(changed, digest_size=20).hexdigest().encode() + b"\n" + changed)
    assert "Sham pump" == load_knowledge(path).causes["worn_pump"].label


def test_load_cached__a_changed_file_is_read_again(cached):
    path, file = cached
    cause = path / "causes/pump/worn_pump.yaml"
    cause.write_text(cause.read_text().replace("Worn pump", "Tired pump"))
    assert "Tired pump" == load_knowledge(path).causes["worn_pump"].label
    assert 2 == len(names_of(file))


def test_load_cached__a_new_error_is_told_in_spite_of_the_cache(cached):
    path, _ = cached
    (path / "cautions.yaml").write_text("cautions: [\n")
    with pytest.raises(ValueError, match="K004"):
        load_knowledge(path)


@pytest.mark.parametrize("content", [b"", b"nonsense", b"\xff\xfe\n{}", b"0\n{}", b"[]\n[]"])
def test_load_cached__a_damaged_cache_is_rebuilt(cached, content):
    path, file = cached
    sound = file.read_bytes()
    file.write_bytes(content)
    assert "Worn pump" == load_knowledge(path).causes["worn_pump"].label
    assert sound == file.read_bytes()


def test_load_cached__a_flipped_byte_is_noticed(cached):
    path, file = cached
    sound = file.read_bytes()
    file.write_bytes(sound.replace(b"Worn pump", b"Born pump"))
    assert "Worn pump" == load_knowledge(path).causes["worn_pump"].label


def test_load_cached__values_of_another_form_are_passed_over(cached):
    path, file = cached
    body = json.dumps({"files": [], "strengths": [], "knowledge": {"words": [1]}}).encode()
    file.write_bytes(hashlib.blake2b(body, digest_size=20).hexdigest().encode() + b"\n" + body)
    assert "Worn pump" == load_knowledge(path).causes["worn_pump"].label


def test_save_cached__holds_json_alone(cached):
    _, file = cached
    assert {"files", "strengths", "knowledge"} == set(json.loads(file.read_bytes().split(b"\n", 1)[1]))


def test_save_cached__a_folder_that_cannot_be_written_is_no_error(folder, tmp_path_factory, monkeypatch):
    blocked = tmp_path_factory.mktemp("home") / "file"
    blocked.write_text("not a folder")
    monkeypatch.setenv("XDG_CACHE_HOME", str(blocked))
    monkeypatch.delenv("SHIFTLORE_CACHE", raising=False)
    assert "worn_pump" in load_knowledge(folder()).causes


def test_save_cached__off_writes_nothing(folder, tmp_path_factory, monkeypatch):
    home = tmp_path_factory.mktemp("home")
    monkeypatch.setenv("XDG_CACHE_HOME", str(home))
    monkeypatch.setenv("SHIFTLORE_CACHE", "off")
    load_knowledge(folder())
    assert [] == os.listdir(home)


def test_save_cached__keeps_only_the_newest_few(cached):
    path, file = cached
    for number in range(9):
        (path / "cautions.yaml").write_text(f"cautions:\n- {{id: hot_fluid, says: Hot {number}.}}\n")
        load_knowledge(path)
    assert 6 == len(names_of(file))


def test_collect_knowledge__never_asks_the_cache(cached):
    path, _ = cached
    knowledge, _ = collect_knowledge(path)
    assert knowledge.places


def test_load_cached__a_cache_of_another_version_is_passed_over(cached, monkeypatch):
    path, file = cached
    monkeypatch.setattr(cache, "__version__", "0.0.0")
    assert "Worn pump" == load_knowledge(path).causes["worn_pump"].label
    assert 2 == len(names_of(file))


def test_load_cached__a_cache_of_other_reading_code_is_passed_over(cached, monkeypatch):
    path, file = cached
    monkeypatch.setattr(cache, "_code_age", lambda: "later")
    assert "Worn pump" == load_knowledge(path).causes["worn_pump"].label
    assert 2 == len(names_of(file))


def test_load_cached__another_name_of_the_same_bytes_is_another_folder(cached):
    path, file = cached
    (path / "states" / "all.yaml").rename(path / "states" / "every.yaml")
    assert "states/every.yaml" == load_knowledge(path).states["element_slips"].mark.file
    assert 2 == len(names_of(file))


@pytest.mark.skipif(os.name != "posix", reason="files have no owner here")
def test_load_cached__a_cache_of_somebody_else_is_passed_over(cached, monkeypatch):
    path, file = cached
    _, body = file.read_bytes().split(b"\n", 1)
    changed = body.replace(b"Worn pump", b"Sham pump")
    file.write_bytes(hashlib.blake2b(changed, digest_size=20).hexdigest().encode() + b"\n" + changed)
    owner = os.getuid()
    monkeypatch.setattr(os, "getuid", lambda: owner + 1)
    assert "Worn pump" == load_knowledge(path).causes["worn_pump"].label


@pytest.mark.skipif(os.name != "posix", reason="files have no such mode here")
def test_save_cached__is_for_its_owner_alone(cached):
    _, file = cached
    assert (0o600, 0o700) == (file.stat().st_mode & 0o777, file.parent.stat().st_mode & 0o777)


def test_save_cached__leaves_nothing_beside_when_it_fails(folder, tmp_path_factory, monkeypatch):
    home = tmp_path_factory.mktemp("home")
    monkeypatch.setenv("XDG_CACHE_HOME", str(home))
    monkeypatch.delenv("SHIFTLORE_CACHE", raising=False)

    def stop(*_):
        raise OSError("disk full")

    monkeypatch.setattr(os, "replace", stop)
    assert "worn_pump" in load_knowledge(folder()).causes
    assert [] == os.listdir(home / "shiftlore")


@pytest.mark.parametrize("word", ["off", "OFF", "no", "0"])
def test_load_cached__every_word_for_off_is_taken(cached, monkeypatch, word):
    path, file = cached
    file.write_bytes(b"damaged")
    monkeypatch.setenv("SHIFTLORE_CACHE", word)
    assert "worn_pump" in load_knowledge(path).causes
    assert b"damaged" == file.read_bytes()


def test_load_cached__without_a_home_nothing_is_kept(folder, monkeypatch):
    monkeypatch.delenv("SHIFTLORE_CACHE", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", "not/absolute")

    def homeless():
        raise RuntimeError("no home")

    monkeypatch.setattr(cache.Path, "home", homeless)
    assert "worn_pump" in load_knowledge(folder()).causes


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.9, 0.999])
def test_load_cached__a_cache_cut_short_is_rebuilt(cached, share):
    path, file = cached
    sound = file.read_bytes()
    file.write_bytes(sound[: int(len(sound) * share)])
    assert "Worn pump" == load_knowledge(path).causes["worn_pump"].label
    assert sound == file.read_bytes()


def there_and_back(knowledge):
    return decode_knowledge(json.loads(json.dumps(encode_knowledge(knowledge))))


def test_decode_knowledge__gives_back_the_small_folder(folder):
    knowledge, _ = collect_knowledge(folder())
    assert replace(knowledge, places={}) == there_and_back(knowledge)


def test_decode_knowledge__gives_back_what_came_with_the_program_unit_sheets_included():
    knowledge, _ = collect_knowledge(find_knowledge())
    assert replace(knowledge, places={}) == there_and_back(knowledge)


def test_encode_knowledge__writes_equal_strengths_once(folder):
    encoded = encode_knowledge(collect_knowledge(folder())[0])
    assert len(encoded["strengths"]) == len({tuple(each) for each in encoded["strengths"]})


@pytest.mark.parametrize(
    "values", [{}, [], {"files": [], "strengths": [], "knowledge": {}}, {"files": 1, "strengths": [[]]}]
)
def test_decode_knowledge__other_values_raise(values):
    with pytest.raises((ValueError, TypeError, KeyError, IndexError)):
        decode_knowledge(values)


def values_of(wanted):
    """Draw any value of an annotation, as the records have them; plain objects are what an answer may be."""
    origin, arguments = typing.get_origin(wanted), typing.get_args(wanted)
    plain = {
        str: st.text(max_size=4),
        bool: st.booleans(),
        int: st.integers(-9, 9),
        float: st.floats(0, 1e9),
        object: st.text(max_size=3) | st.fixed_dictionaries({"is": st.text(max_size=3), "doubt": st.text(max_size=3)}),
        type(None): st.none(),
        Mark: st.builds(Mark, st.sampled_from(["", "a.yaml", "b/c.yaml"]), st.integers(0, 99), st.integers(0, 99)),
        Strength: st.builds(
            Strength, st.sampled_from([0.1, 0.65]), st.floats(0.5, 9), st.sampled_from([None, "often"])
        ),
    }
    if wanted in plain:
        return plain[wanted]
    if origin in (types.UnionType, typing.Union):
        return st.one_of([values_of(part) for part in arguments])
    if origin is tuple:
        if arguments[1:] == (...,):
            return st.lists(values_of(arguments[0]), max_size=2).map(tuple)
        return st.tuples(*(values_of(part) for part in arguments))
    if origin is frozenset:
        return st.frozensets(values_of(arguments[0]), max_size=3)
    if origin is not None and issubclass(origin, Mapping):
        return st.dictionaries(st.text(max_size=4), values_of(arguments[1]), max_size=2)
    assert is_dataclass(wanted), wanted
    return st.builds(wanted, **{one.name: values_of(one.type) for one in fields(wanted) if one.init})


KINDS = [one.name for one in fields(Knowledge) if one.init and one.name != "places"]


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(data=st.data())
def test_decode_knowledge__gives_back_whatever_a_record_can_hold(kind, data):
    """The law of the codec: there and back is the same, for every field of every record."""
    wanted = {one.name: one.type for one in fields(Knowledge)}[kind]
    knowledge = replace(Knowledge(NO_WORDS), **{kind: data.draw(values_of(wanted))})
    assert knowledge == there_and_back(knowledge)


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.text(max_size=3),
        lambda part: st.lists(part) | st.dictionaries(st.text(max_size=9), part),
        max_leaves=8,
    )
)
def test_decode_knowledge__any_json_raises_only_what_is_caught(values):
    with pytest.raises(cache._DAMAGED):
        decode_knowledge(values)
