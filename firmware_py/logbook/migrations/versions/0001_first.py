"""The tables of the first builds."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

COUNTER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
NAME = sa.Text().with_variant(sa.String(190), "mysql", "mariadb")


def upgrade() -> None:
    """Make every table."""
    op.create_table(
        "session",
        sa.Column("id", COUNTER, primary_key=True, autoincrement=True),
        sa.Column("layout_name", sa.Text(), nullable=False),
        sa.Column("layout_path", sa.Text(), nullable=False),
        sa.Column("layout_toml", sa.Text(), nullable=False),
        sa.Column("simulated", sa.Boolean(), nullable=False),
        sa.Column("began_wall_us", sa.BigInteger(), nullable=False),
        sa.Column("ended_wall_us", sa.BigInteger()),
        sa.Column("ended_t_us", sa.BigInteger()),
        sa.Column("outset", sa.Text(), nullable=False),
    )
    _logged()
    _asked_and_said()


def _logged() -> None:
    op.create_table(
        "tape",
        sa.Column("id", COUNTER, primary_key=True, autoincrement=True),
        sa.Column("session_id", COUNTER, sa.ForeignKey("session.id"), nullable=False),
        sa.Column("t_us", sa.BigInteger(), nullable=False),
        sa.Column("contact", sa.Text()),
        sa.Column("made", sa.Boolean()),
        sa.Column("command", sa.Text()),
        sa.Column("spur", sa.Text()),
        sa.Column("violation", sa.Integer()),
        sa.Column("cars", sa.Integer()),
    )
    op.create_index("tape_of_session", "tape", ["session_id", "id"])
    op.create_table(
        "entry",
        sa.Column("id", COUNTER, primary_key=True, autoincrement=True),
        sa.Column("session_id", COUNTER, sa.ForeignKey("session.id"), nullable=False),
        sa.Column("t_us", sa.BigInteger(), nullable=False),
        sa.Column("wall_us", sa.BigInteger(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("at", sa.Text()),
        sa.Column("spur", sa.Text()),
        sa.Column("line", sa.Text(), nullable=False),
    )
    op.create_index("entry_of_session", "entry", ["session_id", "id"])
    op.create_table(
        "violation",
        sa.Column("session_id", COUNTER, sa.ForeignKey("session.id"), primary_key=True),
        sa.Column("number", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("t_us", sa.BigInteger(), nullable=False),
        sa.Column("wall_us", sa.BigInteger(), nullable=False),
        sa.Column("rule", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("spur", sa.Text()),
        sa.Column("missing", sa.Text(), nullable=False),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.Column("last_t_us", sa.BigInteger(), nullable=False),
        sa.Column("acknowledged_t_us", sa.BigInteger()),
        sa.Column("note", sa.Text()),
    )


def _asked_and_said() -> None:
    op.create_table(
        "standing",
        sa.Column("contact", NAME, primary_key=True),
        sa.Column("raw", sa.Boolean()),
        sa.Column("settled", sa.Boolean()),
        sa.Column("edges", sa.Integer(), nullable=False),
        sa.Column("wall_us", sa.BigInteger(), nullable=False),
    )
    op.create_table(
        "request",
        sa.Column("id", COUNTER, primary_key=True, autoincrement=True),
        sa.Column("wall_us", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("command", sa.Text()),
        sa.Column("spur", sa.Text()),
        sa.Column("violation", sa.Integer()),
        sa.Column("cars", sa.Integer()),
        sa.Column("note", sa.Text()),
        sa.Column("contact", sa.Text()),
        sa.Column("made", sa.Boolean()),
        sa.Column("answered_wall_us", sa.BigInteger()),
        sa.Column("accepted", sa.Boolean()),
        sa.Column("why", sa.Text()),
    )
    op.create_index("request_unanswered", "request", ["answered_wall_us", "id"])
    op.create_table(
        "remark",
        sa.Column("id", COUNTER, primary_key=True, autoincrement=True),
        sa.Column("session_id", COUNTER, sa.ForeignKey("session.id")),
        sa.Column("t_us", sa.BigInteger()),
        sa.Column("wall_us", sa.BigInteger(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
    )
    op.create_table(
        "pulse",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("beat", sa.BigInteger(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("session_id", sa.Integer()),
    )


def downgrade() -> None:
    """Refuse: nothing is before the first tables, and a log is not thrown away."""
    raise NotImplementedError("a logbook never goes back to no tables; restore a backup instead")
