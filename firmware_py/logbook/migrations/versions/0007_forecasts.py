"""Forecasts are kept, for debriefs to compare with what came of them."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

_COUNTER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "forecast",
        sa.Column("id", _COUNTER, primary_key=True, autoincrement=True),
        sa.Column("layout_name", sa.Text(), nullable=False),
        sa.Column("wall_us", sa.BigInteger(), nullable=False),
        sa.Column("answer", sa.Text(), nullable=False),
    )


def downgrade() -> None:
    """Take it away again."""
    op.drop_table("forecast")
