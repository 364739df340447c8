"""The first tables."""

from alembic import op

from fleetcare.store.schema import V001

revision = "v001"
down_revision = None


def upgrade() -> None:
    for statement in V001:
        op.execute(statement)
