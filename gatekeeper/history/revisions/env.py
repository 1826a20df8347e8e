"""What Alembic runs: the steps, on the connection and in the transaction that it was handed."""

from __future__ import annotations

from alembic import context

handed = context.config.attributes
context.configure(
    connection=handed["connection"],
    render_as_batch=True,  # SQLite changes a table by copying it
    transaction_per_migration=False,
    on_version_apply=handed["note"],
)
context.run_migrations()
