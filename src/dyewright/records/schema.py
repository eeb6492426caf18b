"""Bring a studio's tables to the version that this package reads, and tell whether they are."""

from sqlalchemy import Connection, Engine, text

from dyewright.records import tables

__all__ = ["differences_from_models", "migration_state", "upgrade_to_head"]

MIGRATION_LOCK = 0x647965  # any number that only our migrations use, so that two servers do not migrate at once


def upgrade_to_head(engine: Engine) -> None:
    """Apply the migrations that the database lacks, all or none."""
    from alembic import command
    from alembic.config import Config

    current, head = migration_state(engine)
    if current == head:
        return
    with engine.begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": MIGRATION_LOCK})
        config = Config(attributes={"connection": connection})
        config.set_main_option("script_location", "dyewright.records:migrations")
        config.set_main_option("path_separator", "os")
        command.upgrade(config, "head")


def migration_state(engine: Engine) -> tuple[str | None, str]:
    """Return the revision that the database has (None for an empty one) and the newest that the package knows."""
    from alembic.config import Config
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", "dyewright.records:migrations")
    config.set_main_option("path_separator", "os")
    head = ScriptDirectory.from_config(config).get_current_head()
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision(), str(head)


def differences_from_models(connection: Connection) -> list[str]:
    """Return what the database's tables have otherwise than the row classes; empty when they agree."""
    from alembic.autogenerate import compare_metadata
    from alembic.runtime.migration import MigrationContext

    context = MigrationContext.configure(connection, opts={"compare_type": True})
    return [str(difference) for difference in compare_metadata(context, tables.metadata)]
