"""The cache gives the same knowledge, and is never trusted over the files."""

import hashlib
import json
import os

import pytest

from shiftlore.knowledge import collect_knowledge, load_knowledge


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
