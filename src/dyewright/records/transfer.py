"""A whole studio moved from one database to another, whatever kind each of them is."""

from sqlalchemy import Connection, Table, delete, func, insert, select, text

from dyewright.records import tables

__all__ = ["copy_rows", "faults", "is_empty", "remove_rows"]

ROWS_AT_A_TIME = 500


def copy_rows(source: Connection, target: Connection) -> None:
    """Copy every row; both databases have the newest tables, and the target's are empty."""
    for table in tables.metadata.sorted_tables:
        holds_photos = table.name == tables.PhotoContentRow.__tablename__
        rows = source.execution_options(yield_per=1 if holds_photos else ROWS_AT_A_TIME).execute(select(table))
        for part in rows.mappings().partitions():
            target.execute(insert(table), [dict(row) for row in part])
        if target.dialect.name == "postgresql":
            _count_on(target, table)


def remove_rows(target: Connection) -> None:
    """Remove every row of a studio, so that another one can take its place."""
    for table in reversed(tables.metadata.sorted_tables):
        target.execute(delete(table))


def is_empty(connection: Connection) -> bool:
    """Return whether no table has a row."""
    counted = (connection.scalar(select(func.count()).select_from(table)) for table in tables.metadata.sorted_tables)
    return not any(counted)


def faults(connection: Connection) -> list[str]:
    """Return what the database says is wrong with itself; empty for a sound one, and for a server that answers."""
    if connection.dialect.name != "sqlite":
        connection.execute(text("SELECT 1"))
        return []
    found = [line for (line,) in connection.execute(text("PRAGMA integrity_check")) if line != "ok"]
    dangling = connection.execute(text("PRAGMA foreign_key_check")).all()
    return found + [f"{row[0]} row {row[1]} refers to a missing {row[2]}" for row in dangling]


def _count_on(target: Connection, table: Table) -> None:
    """Let PostgreSQL's own numbering go on after the numbers that came along."""
    column = table.autoincrement_column
    if column is None:
        return
    sequence = target.scalar(select(func.pg_get_serial_sequence(table.name, column.name)))
    if sequence is not None:
        highest = target.scalar(select(func.max(column)))
        target.execute(select(func.setval(sequence, highest or 1, highest is not None)))
