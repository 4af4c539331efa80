"""What a commissioning asks now is kept, for pages to show it."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

_COUNTER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "sitting",
        sa.Column("id", _COUNTER, primary_key=True, autoincrement=True),
        sa.Column(
            "commissioning_id",
            _COUNTER,
            sa.ForeignKey("commissioning.id"),
            nullable=False,
        ),
        sa.Column("about", sa.Text(), nullable=False),
        sa.Column("shown", sa.Text(), nullable=False),
        sa.Column("beat", sa.BigInteger(), nullable=False),
        sqlite_autoincrement=True,
    )


def downgrade() -> None:
    """Take it away again."""
    op.drop_table("sitting")
