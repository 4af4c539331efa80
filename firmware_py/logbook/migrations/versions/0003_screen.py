"""Sessions are opened by a host; the screen keeps jobs, ticks, settings and sign-ins."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_COUNTER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_NAME = sa.Text().with_variant(sa.String(190), "mysql", "mariadb")


def upgrade() -> None:
    """Add them; older sessions were all for work."""
    op.add_column(
        "session", sa.Column("opened", sa.Boolean(), nullable=False, server_default=sa.true())
    )
    op.create_table(
        "job",
        sa.Column("id", _COUNTER, primary_key=True, autoincrement=True),
        sa.Column("layout_name", sa.Text(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("crew", sa.Text(), nullable=False),
        sa.Column("cars", sa.Integer(), nullable=False),
        sa.Column("rear", sa.Text(), nullable=False),
        sa.Column("keys", sa.Text(), nullable=False),
        sa.Column("stops", sa.Text(), nullable=False),
        sa.Column("changed_wall_us", sa.BigInteger(), nullable=False),
        sa.Column("dropped_wall_us", sa.BigInteger()),
    )
    op.create_table(
        "tick",
        sa.Column("session_id", _COUNTER, sa.ForeignKey("session.id"), primary_key=True),
        sa.Column("job_id", _COUNTER, sa.ForeignKey("job.id"), primary_key=True),
        sa.Column("stop", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("step", _NAME, primary_key=True),
        sa.Column("entry_id", sa.BigInteger(), nullable=False),
        sa.Column("wall_us", sa.BigInteger(), nullable=False),
    )
    op.create_table(
        "setting",
        sa.Column("name", _NAME, primary_key=True),
        sa.Column("value", sa.Text(), nullable=False),
    )
    op.create_table(
        "signin",
        sa.Column("id_hash", _NAME, primary_key=True),
        sa.Column("token", sa.Text(), nullable=False),
        sa.Column("began_wall_us", sa.BigInteger(), nullable=False),
    )
    op.create_table(
        "access",
        sa.Column("id", _COUNTER, primary_key=True, autoincrement=True),
        sa.Column("wall_us", sa.BigInteger(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("whence", sa.Text(), nullable=False),
    )


def downgrade() -> None:
    """Take them away again."""
    for table in ("access", "signin", "setting", "tick", "job"):
        op.drop_table(table)
    op.drop_column("session", "opened")
