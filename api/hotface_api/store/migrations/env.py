"""Run migrations on the connection that ``store.schema`` hands over."""

from alembic import context

from hotface_api.store import models  # noqa: F401 - makes the tables known
from hotface_api.store.base import Base

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=Base.metadata,
    render_as_batch=True,
    compare_type=True,
    transaction_per_migration=False,
    transactional_ddl=False,  # store.schema opens and ends the one transaction
)
context.run_migrations()
