"""The words are read before everything else."""

from shiftlore.knowledge.files import collect_files
from shiftlore.knowledge.gathering import read_all


def test_read_all__takes_the_words_first(folder):
    files, _ = collect_files(folder())
    knowledge, problems = read_all(list(reversed(files)))
    assert ([], 0.65) == (problems, knowledge.causes["worn_pump"].leads_to[1].strengths["dark"].p)


def test_read_all__tells_each_problem_once(folder):
    files, _ = collect_files(folder({"cautions.yaml": "cautions: []\n"}))
    _, problems = read_all(files)
    assert len(problems) == len(set(problems)) == 2


def test_read_all__reads_unit_sheets_with_their_own_codes(folder):
    files, _ = collect_files(folder({"units/x.yaml": "id: x\n"}))
    _, problems = read_all(files)
    assert {"U"} == {problem.code[0] for problem in problems if problem.mark.file == "units/x.yaml"}


def test_read_all__a_check_that_names_no_access_is_made_with_nothing_open(folder):
    path = folder()
    checks = path / "checks/all.yaml"
    checks.write_text(checks.read_text(encoding="utf-8").replace("  access: pan_off\n", ""), encoding="utf-8")
    knowledge, _ = read_all(list(reversed(collect_files(path)[0])))
    assert "standing" == knowledge.unopened == knowledge.checks["pan_drop"].access
