"""Outputs may be worked by hand: a request names one, and those that are are kept."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

_NAME = sa.Text().with_variant(sa.String(190), "mysql", "mariadb")


def upgrade() -> None:
    """Add the column and make the table."""
    op.add_column("request", sa.Column("output", sa.Text()))
    op.create_table(
        "by_hand",
        sa.Column("output", _NAME, primary_key=True),
        sa.Column("shows", sa.Text(), nullable=False),
        sa.Column("whence", sa.Text(), nullable=False),
        sa.Column("since_t_us", sa.BigInteger(), nullable=False),
        sa.Column("until_t_us", sa.BigInteger(), nullable=False),
        sa.Column("until_wall_us", sa.BigInteger(), nullable=False),
    )


def downgrade() -> None:
    """Take both away again."""
    op.drop_table("by_hand")
    op.drop_column("request", "output")
