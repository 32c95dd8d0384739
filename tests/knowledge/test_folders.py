"""Every file is found, in order, with its kind."""

from shiftlore.knowledge.folders import collect_files, find_knowledge


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
