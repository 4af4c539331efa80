"""The host's locomotives and cars are kept, with what was measured of them."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

_COUNTER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "locomotive",
        sa.Column("id", _COUNTER, primary_key=True, autoincrement=True),
        sa.Column("layout_name", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("drive", sa.Text(), nullable=False),
        sa.Column("runs", sa.Text(), nullable=False),
        sa.Column("wanted", sa.Text(), nullable=False),
        sa.Column("stop", sa.Text(), nullable=False),
        sa.Column("changed_wall_us", sa.BigInteger(), nullable=False),
        sa.Column("dropped_wall_us", sa.BigInteger()),
    )
    op.create_table(
        "roll",
        sa.Column("id", _COUNTER, primary_key=True, autoincrement=True),
        sa.Column("layout_name", sa.Text(), nullable=False),
        sa.Column("car", sa.Text(), nullable=False),
        sa.Column("measured", sa.Text(), nullable=False),
        sa.Column("wall_us", sa.BigInteger(), nullable=False),
    )


def downgrade() -> None:
    """Take them away again."""
    op.drop_table("roll")
    op.drop_table("locomotive")
