"""What is written where there is no room is whole or as it was, and told."""

from pathlib import Path

import pytest
from support.full_disks import WRITERS, check_no_room, run_writer, set_out

pytest.importorskip("resource")


@pytest.mark.parametrize("name", WRITERS)
def test_run__where_no_file_may_grow_what_stood_there_stays(name: str, tmp_path: Path) -> None:
    code = check_no_room(name, tmp_path, None, 1, lambda: None)
    assert (code == 0) == (name == "rank"), "only the cache can be done without"


def test_run__a_file_that_may_grow_a_little_is_whole_or_as_it_was(tmp_path: Path) -> None:
    """The first try finds room, the writing itself does not."""
    set_out("unit --draw", tmp_path)
    _, _, whole = run_writer("unit --draw", tmp_path)
    assert whole is not None and 1 == check_no_room("unit --draw", tmp_path, whole, len(whole) - 1, lambda: None)
