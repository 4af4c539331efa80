"""Sessions say why their tape is not whole, where it is not."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; of older sessions nothing is known to be missing."""
    op.add_column("session", sa.Column("tape_gap", sa.Text()))


def downgrade() -> None:
    """Take the column away again."""
    op.drop_column("session", "tape_gap")
