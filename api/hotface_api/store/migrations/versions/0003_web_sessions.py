"""Sessions of the pages: a key exchanged for an opaque id, of which only the digest is held."""

import sqlalchemy as sa
from alembic import op

revision = '0003'
down_revision = '0002'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('web_session',
    sa.Column('digest', sa.String(), nullable=False),
    sa.Column('key', sa.String(), nullable=False),
    sa.Column('made_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('expires_at', sa.DateTime(timezone=True), nullable=False),
    sa.ForeignKeyConstraint(['key'], ['api_key.id'], name=op.f('fk_web_session_key_api_key')),
    sa.PrimaryKeyConstraint('digest', name=op.f('pk_web_session'))
    )
    with op.batch_alter_table('web_session', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_web_session_key'), ['key'], unique=False)
        batch_op.create_index(batch_op.f('ix_web_session_expires_at'), ['expires_at'], unique=False)


def downgrade() -> None:
    with op.batch_alter_table('web_session', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_web_session_expires_at'))
        batch_op.drop_index(batch_op.f('ix_web_session_key'))

    op.drop_table('web_session')
