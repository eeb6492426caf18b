"""Bring a studio's tables to the version that this package reads, and tell whether they are."""

from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, text

from dyewright.errors import DataFileError
from dyewright.records import tables

__all__ = ["differences_from_models", "migration_state", "upgrade_to_head"]

MIGRATION_LOCK = 0x647965  # any number that only our migrations use, so that two servers do not migrate at once


def upgrade_to_head(engine: Engine, *, to: str = "head") -> None:
    """Apply the migrations that the database lacks, all or none; `to` stops at an earlier revision.

    Raises:
        DataFileError: the database was written by a newer version than this one.
    """
    from alembic import command

    current, head = migration_state(engine)
    if current == head:
        return
    config = _config()
    known = {revision.revision for revision in ScriptDirectory.from_config(config).walk_revisions()}
    if current is not None and current not in known:
        raise DataFileError(
            f"this studio was kept by a newer version (tables {current}, this version knows {head}); install that one"
        )
    with engine.begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": MIGRATION_LOCK})
        config.attributes["connection"] = connection
        command.upgrade(config, to)


def migration_state(engine: Engine) -> tuple[str | None, str]:
    """Return the revision that the database has (None for an empty one) and the newest that the package knows."""
    head = ScriptDirectory.from_config(_config()).get_current_head()
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision(), str(head)


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", "dyewright.records:migrations")
    config.set_main_option("path_separator", "os")
    return config


def differences_from_models(connection: Connection) -> list[str]:
    """Return what the database's tables have otherwise than the row classes; empty when they agree."""
    from alembic.autogenerate import compare_metadata

    context = MigrationContext.configure(connection, opts={"compare_type": True})
    return [str(difference) for difference in compare_metadata(context, tables.metadata)]
