"""A studio's database opened: one transaction a task, SQLite by default, PostgreSQL by URL."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from json import dumps
from pathlib import Path
from sqlite3 import Connection as SqliteConnection

from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError
from sqlalchemy.orm import Session

from dyewright.errors import DataFileError, InputError

__all__ = ["Records", "open_records"]

BUSY_TIMEOUT_MS = 5000  # how long a writer waits for another one to finish


class Records:
    """The records of one studio. `engine` is for migrations, checks and backups; tasks take a transaction."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine

    @contextmanager
    def begin(self) -> Iterator[Session]:
        """Yield a Session that commits when the block ends, and rolls back when it fails."""
        with Session(self.engine, expire_on_commit=False) as session, session.begin():
            yield session

    @contextmanager
    def read(self) -> Iterator[Session]:
        """Yield a Session to read with: it takes no write lock, and whatever was changed in it is dropped."""
        reading = self.engine.execution_options(sqlite_begin="BEGIN")
        with Session(reading) as session:
            yield session

    @property
    def file(self) -> Path | None:
        """The file of an SQLite studio; None for a server."""
        url = self.engine.url
        return Path(url.database) if url.get_backend_name() == "sqlite" and url.database else None

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()


def open_records(url: str) -> Records:
    """Return the records at a database URL, `sqlite:///FILE` or `postgresql://…`, as they are: migrate apart.

    Raises:
        InputError: no URL, or a kind of database that is not supported.
        DataFileError: the database cannot be opened.
    """
    try:
        parsed = make_url(url)
        if parsed.drivername in {"postgres", "postgresql"}:
            parsed = parsed.set(drivername="postgresql+psycopg")
        if parsed.get_backend_name() not in {"sqlite", "postgresql"}:
            raise InputError(
                f"studio at {parsed.render_as_string()}: only SQLite files and postgresql:// URLs are supported"
            )
        engine = create_engine(parsed, json_serializer=partial(dumps, ensure_ascii=False, allow_nan=False))
    except (ArgumentError, NoSuchModuleError) as error:
        raise InputError(f"studio at {url!r}: not a path or database URL ({error})", value=url) from error
    except ModuleNotFoundError as error:
        raise InputError("a studio on PostgreSQL needs the extra: install dyewright[postgresql]", value=url) from error
    if parsed.get_backend_name() == "sqlite":
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    _try_out(engine)
    return Records(engine)


def _try_out(engine: Engine) -> None:
    try:
        engine.connect().close()
    except DBAPIError as error:
        place = engine.url.database or engine.url.render_as_string()
        engine.dispose()
        raise DataFileError(f"the studio at {place} cannot be opened: {error.orig}") from error


def _prepare_sqlite(connection: SqliteConnection, _record: object) -> None:
    connection.isolation_level = None  # transactions are begun below, not by the driver's guess
    cursor = connection.cursor()
    try:
        cursor.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
        cursor.execute("PRAGMA journal_mode = WAL")
        cursor.execute("PRAGMA foreign_keys = ON")
    finally:
        cursor.close()


def _begin_sqlite(connection: Connection) -> None:
    # A writer takes the lock at once: a reader that turns writer later would fail without waiting.
    connection.exec_driver_sql(connection.get_execution_options().get("sqlite_begin", "BEGIN IMMEDIATE"))
