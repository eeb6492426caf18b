"""What Alembic runs for each command: the connection is handed over by records.schema, never read from a file."""

from alembic import context

from dyewright.records import tables

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=tables.metadata,
    render_as_batch=True,  # SQLite alters a table by making it anew
)
with context.begin_transaction():
    context.run_migrations()
