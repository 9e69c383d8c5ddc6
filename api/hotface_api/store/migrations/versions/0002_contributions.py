"""Contributions: contributors, keys, submissions, review, audit, shared rate counts.

Going down drops the keys, the reviews and the audit; contributed values stay in ``value``.
Columns are dropped by the database itself: rebuilding the tables would lose their CHECKs and the
conditions of their partial indexes.
"""

import sqlalchemy as sa
from alembic import op

revision = '0002'
down_revision = '0001'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('audit',
    sa.Column('number', sa.Integer(), autoincrement=False, nullable=False),
    sa.Column('at', sa.String(), nullable=False),
    sa.Column('actor', sa.String(), nullable=False),
    sa.Column('action', sa.String(), nullable=False),
    sa.Column('subject', sa.String(), nullable=False),
    sa.Column('facts', sa.Text(), nullable=False),
    sa.Column('previous', sa.String(), nullable=False),
    sa.Column('hash', sa.String(), nullable=False),
    sa.PrimaryKeyConstraint('number', name=op.f('pk_audit'))
    )
    with op.batch_alter_table('audit', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_audit_subject'), ['subject'], unique=False)

    op.create_table('contributor',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('made_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('erased_at', sa.DateTime(timezone=True), nullable=True),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_contributor'))
    )
    op.create_table('rate_window',
    sa.Column('key', sa.String(), nullable=False),
    sa.Column('window', sa.BigInteger(), nullable=False),
    sa.Column('hits', sa.Integer(), nullable=False),
    sa.Column('expires_at', sa.Double(), nullable=False),
    sa.PrimaryKeyConstraint('key', 'window', name=op.f('pk_rate_window'))
    )
    with op.batch_alter_table('rate_window', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_rate_window_expires_at'), ['expires_at'], unique=False)

    op.create_table('reply',
    sa.Column('owner', sa.String(), nullable=False),
    sa.Column('key', sa.String(), nullable=False),
    sa.Column('fingerprint', sa.String(), nullable=False),
    sa.Column('answer', sa.Text(), nullable=False),
    sa.Column('made_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('expires_at', sa.DateTime(timezone=True), nullable=False),
    sa.PrimaryKeyConstraint('owner', 'key', name=op.f('pk_reply'))
    )
    with op.batch_alter_table('reply', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_reply_expires_at'), ['expires_at'], unique=False)

    op.create_table('api_key',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('contributor', sa.String(), nullable=False),
    sa.Column('role', sa.String(), nullable=False),
    sa.Column('digest', sa.String(), nullable=False),
    sa.Column('label', sa.Text(), nullable=False),
    sa.Column('made_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('expires_at', sa.DateTime(timezone=True), nullable=True),
    sa.Column('last_used_at', sa.DateTime(timezone=True), nullable=True),
    sa.Column('revoked_at', sa.DateTime(timezone=True), nullable=True),
    sa.CheckConstraint('"role" IN (\'contributor\', \'curator\')', name=op.f('ck_api_key_role')),
    sa.ForeignKeyConstraint(['contributor'], ['contributor.id'], name=op.f('fk_api_key_contributor_contributor')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_api_key'))
    )
    with op.batch_alter_table('api_key', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_api_key_contributor'), ['contributor'], unique=False)

    op.create_table('person',
    sa.Column('contributor', sa.String(), nullable=False),
    sa.Column('name', sa.Text(), nullable=False),
    sa.Column('orcid', sa.String(), nullable=True),
    sa.Column('contact', sa.Text(), nullable=True),
    sa.ForeignKeyConstraint(['contributor'], ['contributor.id'], name=op.f('fk_person_contributor_contributor')),
    sa.PrimaryKeyConstraint('contributor', name=op.f('pk_person'))
    )
    with op.batch_alter_table('person', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_person_orcid'), ['orcid'], unique=False)

    op.create_table('remark',
    sa.Column('number', sa.Integer(), autoincrement=False, nullable=False),
    sa.Column('value', sa.String(), nullable=False),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('author', sa.String(), nullable=False),
    sa.Column('act', sa.String(), nullable=False),
    sa.Column('text', sa.Text(), nullable=True),
    sa.Column('salt', sa.String(), nullable=True),
    sa.CheckConstraint('"act" IN (\'submit\', \'ask\', \'reply\', \'accept\', \'decline\', \'correct\', \'withdraw\')', name=op.f('ck_remark_act')),
    sa.ForeignKeyConstraint(['author'], ['contributor.id'], name=op.f('fk_remark_author_contributor')),
    sa.PrimaryKeyConstraint('number', name=op.f('pk_remark'))
    )
    with op.batch_alter_table('remark', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_remark_author'), ['author'], unique=False)
        batch_op.create_index(batch_op.f('ix_remark_value'), ['value'], unique=False)

    op.create_table('submission',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('contributor', sa.String(), nullable=False),
    sa.Column('made_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('licence', sa.String(), nullable=False),
    sa.Column('against_revision', sa.Integer(), nullable=False),
    sa.Column('proposed', sa.JSON(), nullable=False),
    sa.ForeignKeyConstraint(['against_revision'], ['revision.number'], name=op.f('fk_submission_against_revision_revision')),
    sa.ForeignKeyConstraint(['contributor'], ['contributor.id'], name=op.f('fk_submission_contributor_contributor')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_submission'))
    )
    with op.batch_alter_table('submission', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_submission_contributor'), ['contributor'], unique=False)

    op.create_table('attribution',
    sa.Column('submission', sa.String(), nullable=False),
    sa.Column('name', sa.Text(), nullable=False),
    sa.Column('orcid', sa.String(), nullable=True),
    sa.ForeignKeyConstraint(['submission'], ['submission.id'], name=op.f('fk_attribution_submission_submission')),
    sa.PrimaryKeyConstraint('submission', name=op.f('pk_attribution'))
    )
    op.create_table('contribution',
    sa.Column('value', sa.String(), nullable=False),
    sa.Column('submission', sa.String(), nullable=False),
    sa.Column('contributor', sa.String(), nullable=False),
    sa.Column('position', sa.Integer(), nullable=False),
    sa.Column('state', sa.String(), nullable=False),
    sa.Column('content_hash', sa.String(), nullable=False),
    sa.CheckConstraint('"state" IN (\'pending\', \'asked\', \'accepted\', \'declined\', \'withdrawn\', \'replaced\')', name=op.f('ck_contribution_state')),
    sa.ForeignKeyConstraint(['contributor'], ['contributor.id'], name=op.f('fk_contribution_contributor_contributor')),
    sa.ForeignKeyConstraint(['submission'], ['submission.id'], name=op.f('fk_contribution_submission_submission')),
    sa.PrimaryKeyConstraint('value', name=op.f('pk_contribution'))
    )
    with op.batch_alter_table('contribution', schema=None) as batch_op:
        batch_op.create_index('ix_contribution_contributor', ['contributor', 'value'], unique=False)
        batch_op.create_index('ix_contribution_state', ['state', 'value'], unique=False)
        batch_op.create_index(batch_op.f('ix_contribution_submission'), ['submission'], unique=False)
        batch_op.create_index('uq_contribution_content', ['contributor', 'content_hash'], unique=True, sqlite_where=sa.text("state IN ('pending', 'asked', 'accepted')"), postgresql_where=sa.text("state IN ('pending', 'asked', 'accepted')"))

    with op.batch_alter_table('material', schema=None) as batch_op:
        batch_op.add_column(sa.Column('contributor', sa.String(), nullable=True))

    with op.batch_alter_table('origin', schema=None) as batch_op:
        batch_op.add_column(sa.Column('contributor', sa.String(), nullable=True))

    with op.batch_alter_table('source', schema=None) as batch_op:
        batch_op.add_column(sa.Column('contributor', sa.String(), nullable=True))

    with op.batch_alter_table('specimen', schema=None) as batch_op:
        batch_op.add_column(sa.Column('contributor', sa.String(), nullable=True))

    with op.batch_alter_table('specimen_constituent', schema=None) as batch_op:
        batch_op.add_column(sa.Column('contributor', sa.String(), nullable=True))



def downgrade() -> None:
    op.execute('ALTER TABLE specimen_constituent DROP COLUMN contributor')

    op.execute('ALTER TABLE specimen DROP COLUMN contributor')

    op.execute('ALTER TABLE source DROP COLUMN contributor')

    op.execute('ALTER TABLE origin DROP COLUMN contributor')

    op.execute('ALTER TABLE material DROP COLUMN contributor')

    with op.batch_alter_table('contribution', schema=None) as batch_op:
        batch_op.drop_index('uq_contribution_content', sqlite_where=sa.text("state IN ('pending', 'asked', 'accepted')"), postgresql_where=sa.text("state IN ('pending', 'asked', 'accepted')"))
        batch_op.drop_index(batch_op.f('ix_contribution_submission'))
        batch_op.drop_index('ix_contribution_state')
        batch_op.drop_index('ix_contribution_contributor')

    op.drop_table('contribution')
    op.drop_table('attribution')
    with op.batch_alter_table('submission', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_submission_contributor'))

    op.drop_table('submission')
    with op.batch_alter_table('remark', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_remark_value'))
        batch_op.drop_index(batch_op.f('ix_remark_author'))

    op.drop_table('remark')
    with op.batch_alter_table('person', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_person_orcid'))

    op.drop_table('person')
    with op.batch_alter_table('api_key', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_api_key_contributor'))

    op.drop_table('api_key')
    with op.batch_alter_table('reply', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_reply_expires_at'))

    op.drop_table('reply')
    with op.batch_alter_table('rate_window', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_rate_window_expires_at'))

    op.drop_table('rate_window')
    op.drop_table('contributor')
    with op.batch_alter_table('audit', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_audit_subject'))

    op.drop_table('audit')
