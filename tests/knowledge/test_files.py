"""Every file is found, in order, with its kind; the cache gives the same knowledge, and is never trusted over the files."""

import hashlib
import json
import os
from dataclasses import replace

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import shiftlore.knowledge.files as cache
from shiftlore.knowledge import Cause, Link, collect_knowledge, find_knowledge, load_knowledge
from shiftlore.knowledge.files import collect_files, list_ids
from shiftlore.knowledge.rulebook import KEPT_FIELDS


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


@pytest.fixture
def cached(folder, tmp_path_factory, monkeypatch):
    """Give the clean folder, loaded once, and the cache file that this left."""
    home = tmp_path_factory.mktemp("home")
    monkeypatch.setenv("XDG_CACHE_HOME", str(home))
    monkeypatch.delenv("SHIFTLORE_CACHE", raising=False)
    path = folder()
    load_knowledge(path)
    (file,) = (home / "shiftlore").glob("*.rules")
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
    body = msgspec.msgpack.encode({"words": [1]})
    file.write_bytes(hashlib.blake2b(body, digest_size=20).hexdigest().encode() + b"\n" + body)
    assert "Worn pump" == load_knowledge(path).causes["worn_pump"].label


def values_in(file):
    return msgspec.msgpack.decode(file.read_bytes().split(b"\n", 1)[1])


def cause_in(values):
    """Give the values of one cause, in the order of its fields."""
    return values[[*KEPT_FIELDS].index("causes")]["worn_pump"]


def forge(file, change):
    """Change what a cache holds, and give it the checksum that goes with it."""
    values = values_in(file)
    change(values)
    body = msgspec.msgpack.encode(values)
    file.write_bytes(hashlib.blake2b(body, digest_size=20).hexdigest().encode() + b"\n" + body)


@pytest.mark.parametrize("strength", [[1.7, 9.0, "often"], [-0.1, 9.0, None], [float("nan"), 9.0, None], [0.5, float("inf"), None], [0.5, 0.0, None], [0.5, 9.0, 3], ["0.5", 9.0, None]])  # fmt: skip
def test_load_cached__strengths_that_no_file_can_say_are_passed_over(cached, strength):
    path, file = cached
    place = Cause.__struct_fields__.index("leads_to")
    strengths = Link.__struct_fields__.index("strengths")
    assert 3 == len(cause_in(values_in(file))[place][0][strengths]["yes"])
    forge(file, lambda values: cause_in(values)[place][0][strengths].update(yes=strength))
    assert 0.0 < load_knowledge(path).causes["worn_pump"].leads_to[0].strengths["yes"].p < 1.0


def test_load_cached__words_where_numbers_stand_and_numbers_where_words_do_are_passed_over(cached):
    """Every plain value of every record, one at a time, takes another type."""
    path, file = cached
    sound = file.read_bytes()
    fields = cause_in(values_in(file))
    places = [place for place, value in enumerate(fields) if isinstance(value, str | int | float)]
    assert len(places) > 3
    for place in places:
        wrong = 3 if isinstance(fields[place], str) else "three"
        forge(file, lambda values, place=place, wrong=wrong: cause_in(values).__setitem__(place, wrong))
        assert "Worn pump" == load_knowledge(path).causes["worn_pump"].label
        file.write_bytes(sound)


@pytest.mark.skipif(os.name != "posix", reason="files have no such mode here")
@pytest.mark.parametrize("spoil", ["file others may write", "folder others may write", "link", "linked folder", "pipe"])
def test_load_cached__what_others_may_have_written_is_passed_over(cached, tmp_path_factory, spoil):
    path, file = cached
    changed = file.read_bytes().split(b"\n", 1)[1].replace(b"Worn pump", b"Sham pump")
    file.write_bytes(hashlib.blake2b(changed, digest_size=20).hexdigest().encode() + b"\n" + changed)
    assert "Sham pump" == load_knowledge(path).causes["worn_pump"].label, "a cache of one's own is used"
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    if spoil.endswith("write"):
        one = file if spoil.startswith("file") else file.parent
        one.chmod(one.stat().st_mode | 0o002)
    elif spoil == "link":
        file.rename(elsewhere / "body")
        file.symlink_to(elsewhere / "body")
    elif spoil == "linked folder":
        file.parent.rename(elsewhere / "folder")
        file.parent.symlink_to(elsewhere / "folder")
    else:
        file.unlink()
        os.mkfifo(file)
    assert "Worn pump" == load_knowledge(path).causes["worn_pump"].label


def test_cache_folder__an_empty_home_is_not_the_root(monkeypatch):
    monkeypatch.delenv("SHIFTLORE_CACHE", raising=False)
    monkeypatch.delenv("SHIFTLORE_SHOP", raising=False)
    for name in ("HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "APPDATA"):
        monkeypatch.setenv(name, "")
    assert (None, None) == (cache.cache_folder(), cache.find_own_shop())


def test_save_cached__holds_plain_values_alone(cached):
    """Lists, mappings, texts and numbers: nothing that reading would run."""
    values = values_in(cached[1])
    assert len(KEPT_FIELDS) == len(values)
    assert values == json.loads(json.dumps(values))


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
    monkeypatch.setattr(cache, "code_age", lambda *rooms: "later")
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


@settings(deadline=None, max_examples=50, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(place=st.floats(0, 0.999), byte=st.integers(0, 255))
def test_load_cached__a_changed_byte_gives_what_the_files_say(cached, place, byte):
    path, file = cached
    sound = file.read_bytes()
    at = int(place * len(sound))
    file.write_bytes(sound[:at] + bytes([byte]) + sound[at + 1 :])
    assert replace(collect_knowledge(path)[0], places={}) == replace(load_knowledge(path), places={})


def test_collect_files__leaves_the_words_of_the_page_to_those_who_read_them(tmp_path):
    (tmp_path / "phrases").mkdir()
    (tmp_path / "phrases" / "en.yaml").write_text("page: {}\n", encoding="utf-8")
    assert ([], []) == collect_files(tmp_path)


@pytest.mark.parametrize("kind", ["causes", "findings", "checks", "jobs", "states", "access", "backgrounds"])
def test_list_ids__the_same_as_when_everything_is_read(kind):
    assert sorted(getattr(load_knowledge(find_knowledge()), kind)) == list_ids(find_knowledge(), [kind])


def test_list_ids__none_without_a_folder_and_several_kinds_at_once(tmp_path):
    assert [] == list_ids(tmp_path / "nowhere", ["causes"])
    both = list_ids(find_knowledge(), ["checks", "jobs"])
    assert both == sorted({*list_ids(find_knowledge(), ["checks"]), *list_ids(find_knowledge(), ["jobs"])})


def test_write_kept__comes_back_and_only_the_newest_of_an_ending_stay(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.delenv("SHIFTLORE_CACHE", raising=False)
    for i, name in enumerate(["a.unit", "b.json", "c.unit", "d.unit"]):
        cache.write_kept(name, name.encode(), 2)
        os.utime(tmp_path / "shiftlore" / name, (i, i))
    assert [None, b"b.json", b"c.unit", b"d.unit"] == [
        cache.read_kept(f"{n}") for n in ("a.unit", "b.json", "c.unit", "d.unit")
    ]


def test_read_kept__what_is_damaged_is_not_there(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.delenv("SHIFTLORE_CACHE", raising=False)
    cache.write_kept("a.unit", b"some bytes", 2)
    path = tmp_path / "shiftlore" / "a.unit"
    path.write_bytes(path.read_bytes().replace(b"some", b"same"))
    assert cache.read_kept("a.unit") is None


def test_hash_text__where_one_text_ends_counts():
    assert cache.hash_text("ab", "c") != cache.hash_text("a", "bc")
    assert cache.hash_text("ab", "c") == cache.hash_text("ab", "c")
