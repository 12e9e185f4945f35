"""Run by Alembic: takes the connection that `database.migrate` opened, inside its transaction."""

from alembic import context

from fanlight.store.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    render_as_batch=True,  # SQLite changes a table by making it anew
)
context.run_migrations()
