"""Where Alembic finds the connection: always one that is given, never an address of its own."""

from alembic import context

from debrief.logbook.addresses import VERSION_TABLE
from debrief.logbook.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    version_table=VERSION_TABLE,
    transactional_ddl=True,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
