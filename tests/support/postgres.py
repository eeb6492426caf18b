"""A PostgreSQL server of the tests' own: Debian's programs, a fresh cluster, one socket in a temporary folder."""

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit
from uuid import uuid4

URL_VARIABLE = "DYEWRIGHT_TEST_POSTGRES"
PROGRAMS = Path("/usr/lib/postgresql")
ACCOUNT = "postgres"  # Debian's package makes it; the server refuses to run as root


def programs() -> Path | None:
    """Return the folder with the newest server's programs."""
    found = sorted(PROGRAMS.glob("*/bin"), key=lambda folder: float(folder.parent.name))
    return found[-1] if found else None


@contextmanager
def running_server() -> Iterator[str | None]:
    """Yield the URL of a server with an empty database; None where there is no PostgreSQL on this machine."""
    given = os.environ.get(URL_VARIABLE)
    if given:
        yield given
        return
    binaries = programs()
    if binaries is None:
        yield None
        return
    folder = Path(tempfile.mkdtemp(prefix="pg-"))  # short: a socket's path has at most 107 characters
    try:
        data = folder / "data"
        if os.geteuid() == 0:
            account = pwd.getpwnam(ACCOUNT)
            os.chown(folder, account.pw_uid, account.pw_gid)
        _run(binaries / "initdb", "-D", data, "-U", "dyer", "-A", "trust", "-E", "UTF8", "--no-locale", "--no-sync")
        options = f"-k {folder} -c listen_addresses='' -c fsync=off"
        _run(binaries / "pg_ctl", "-D", data, "-o", options, "-l", folder / "log", "-w", "start")
        try:
            yield f"postgresql://dyer@/postgres?host={folder}"
        finally:
            _run(binaries / "pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def fresh_database(url: str) -> str:
    """Make a database of its own for this test process, and return its URL."""
    import psycopg

    name = f"dyewright_{uuid4().hex}"
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')
    parts = urlsplit(url)
    return urlunsplit(parts._replace(path=f"/{name}", netloc=parts.netloc or ""))


def _run(program: Path, *arguments: object) -> None:
    command = [str(program), *(str(argument) for argument in arguments)]
    if os.geteuid() == 0:
        command = ["runuser", "-u", ACCOUNT, "--", *command]
    # Output goes to a file: the server keeps what it inherits open, and a pipe would never end.
    with tempfile.TemporaryFile() as output:
        done = subprocess.run(command, stdout=output, stderr=output, check=False, cwd="/")
        if done.returncode != 0:
            output.seek(0)
            raise RuntimeError(f"{command} failed: {output.read().decode()}")
