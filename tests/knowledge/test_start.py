"""A start with a warm cache stays light."""

import os
import subprocess
import sys

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
