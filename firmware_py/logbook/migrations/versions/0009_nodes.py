"""Logs of many boxes can be gathered into one, and a box takes errands from a board."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

_COUNTER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_NAME = sa.Text().with_variant(sa.String(190), "mysql", "mariadb")
_KNOWN = sa.text("seq IS NOT NULL")


def upgrade() -> None:
    """Make the tables, and the column and index that keep an entry from coming twice."""
    op.create_table(
        "node",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("name", _NAME, nullable=False, unique=True),
        sa.Column("incarnation", sa.Text()),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("trouble", sa.Text()),
        sa.Column("session_id", sa.BigInteger()),
        sa.Column("heard_wall_us", sa.BigInteger(), nullable=False),
        sa.Column("offset_us", sa.BigInteger()),
        sa.Column("revision", sa.BigInteger(), nullable=False),
    )
    op.create_table(
        "incarnation",
        sa.Column("id", _NAME, primary_key=True),
        sa.Column("node_id", sa.Integer(), sa.ForeignKey("node.id"), nullable=False),
        sa.Column("entry_seq", sa.BigInteger(), nullable=False),
        sa.Column("remark_seq", sa.BigInteger(), nullable=False),
        sa.Column("began_wall_us", sa.BigInteger(), nullable=False),
    )
    op.create_table(
        "gathered",
        sa.Column("session_id", _COUNTER, sa.ForeignKey("session.id"), primary_key=True),
        sa.Column("incarnation", _NAME, sa.ForeignKey("incarnation.id"), nullable=False),
        sa.Column("node_session", sa.BigInteger(), nullable=False),
        sa.Column("offset_us", sa.BigInteger(), nullable=False),
    )
    op.create_index("gathered_once", "gathered", ["incarnation", "node_session"], unique=True)
    op.create_table(
        "errand",
        sa.Column("id", _NAME, primary_key=True),
        sa.Column("request_id", _COUNTER, sa.ForeignKey("request.id"), nullable=False),
    )
    op.add_column("entry", sa.Column("seq", sa.BigInteger()))
    op.create_index(
        "entry_of_node",
        "entry",
        ["session_id", "seq"],
        unique=True,
        sqlite_where=_KNOWN,
    )


def downgrade() -> None:
    """Take them away again."""
    op.drop_index("entry_of_node", "entry")
    op.drop_column("entry", "seq")
    for table in ("errand", "gathered", "incarnation", "node"):
        op.drop_table(table)
