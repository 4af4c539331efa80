"""The builder's commissionings are kept, with what each has found."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_COUNTER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "commissioning",
        sa.Column("id", _COUNTER, primary_key=True, autoincrement=True),
        sa.Column("layout_name", sa.Text(), nullable=False),
        sa.Column("simulated", sa.Boolean(), nullable=False),
        sa.Column("began_wall_us", sa.BigInteger(), nullable=False),
        sa.Column("evidence", sa.Text(), nullable=False),
        sa.Column("findings", sa.Text(), nullable=False),
        sa.Column("signed_wall_us", sa.BigInteger()),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("by_whom", sa.Text(), nullable=False),
        sa.Column("equipment", sa.Text(), nullable=False),
        sa.Column("results", sa.Text(), nullable=False),
        sa.Column("repairs", sa.Text(), nullable=False),
        sa.Column("condition_left", sa.Text(), nullable=False),
        sa.Column("due_wall_us", sa.BigInteger()),
    )


def downgrade() -> None:
    """Take it away again."""
    op.drop_table("commissioning")
