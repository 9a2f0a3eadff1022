"""What Alembic runs: the steps, on the connection that was given, in its transaction."""

from alembic import context

context.configure(connection=context.config.attributes["connection"])
context.run_migrations()
