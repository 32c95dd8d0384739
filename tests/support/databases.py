"""A PostgreSQL of its own for the tests: the one that is named, or one that is started for them, or none."""

import glob
import os
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

NAMED = "SHIFTLORE_TEST_POSTGRES"
"""Address of a PostgreSQL in which tests may make and drop databases; without it one is started."""
_SECONDS = 60
_LOCAL_ONLY = "-c listen_addresses='' -c max_connections=100"
_IN_HASTE = "-c fsync=off -c full_page_writes=off"
"""Clients are killed here, the machine is not."""


def find_programs() -> Path | None:
    """Find the folder with `initdb` and `pg_ctl`: where the distributions put them, or on the path."""
    places = [Path(one).parent for one in sorted(glob.glob("/usr/lib/postgresql/*/bin/initdb"), reverse=True)]
    if on_path := shutil.which("initdb"):
        places.append(Path(on_path).parent)
    return next((one for one in places if (one / "pg_ctl").exists()), None)


def _as_owner(command: list[str]) -> None:
    """Run a program of the server, which refuses to run as root."""
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    before = ["runuser", "-u", "postgres", "--"] if is_root else []
    done = subprocess.run([*before, *command], cwd="/", capture_output=True, text=True, timeout=_SECONDS)
    assert done.returncode == 0, done.stdout + done.stderr


@contextmanager
def postgres_server(is_safe: bool = False) -> Iterator[str | None]:
    """Give the address of a server for the time of some tests; None where there is none.

    Args:
        is_safe: have all on disk before it is told, as a shop's server does, which takes its time.
    """
    if named := os.environ.get(NAMED):
        yield named
        return
    programs = find_programs()
    if programs is None:
        yield None
        return
    with tempfile.TemporaryDirectory(prefix="pg", ignore_cleanup_errors=True) as folder:
        if os.geteuid() == 0:
            shutil.chown(folder, "postgres")
        cluster = f"{folder}/cluster"
        setting = ["-U", "bench", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync"]
        _as_owner([str(programs / "initdb"), "-D", cluster, *setting])
        start = ["-w", "-o", f"{_LOCAL_ONLY} {'' if is_safe else _IN_HASTE} -k {folder}", "-l", f"{folder}/log"]
        _as_owner([str(programs / "pg_ctl"), "-D", cluster, *start, "start"])
        try:
            yield f"postgresql://bench@/postgres?host={folder}"
        finally:
            _as_owner([str(programs / "pg_ctl"), "-D", cluster, "-m", "immediate", "-w", "stop"])


@contextmanager
def fresh_database(server: str) -> Iterator[str]:
    """Make a database on the server, and drop it afterwards; give its address."""
    name = f"casebook_{uuid.uuid4().hex[:12]}"
    base, mark, rest = server.partition("?")
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')
    try:
        yield f"{base.rpartition('/')[0]}/{name}{mark}{rest}"
    finally:
        with psycopg.connect(server, autocommit=True) as connection:
            connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def empty_database(address: str) -> str:
    """Take everything out of a database; give its address."""
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute("DROP SCHEMA public CASCADE")
        connection.execute("CREATE SCHEMA public")
    return address
