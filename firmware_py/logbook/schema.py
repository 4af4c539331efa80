"""The logbook's tables.

The engine writes every table but ``request``; the screen reads them all and adds requests. From
``job`` on, the tables are the screen's own, the builder's (``commissioning``) and the club's
(from ``node`` on): the engine neither reads nor writes them.
Times: ``t_us`` is session time in microseconds (monotonic, 0 at the session's start),
``wall_us`` is microseconds since 1970 UTC by the wall clock, which may be wrong or step.

A change here needs a migration in ``migrations/versions`` and a line in ``versions.py``.
"""

from __future__ import annotations

from sqlalchemy import BigInteger, ForeignKey, Index, Integer, String, Text, text, true
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

_Counter = BigInteger().with_variant(Integer, "sqlite")  # SQLite counts only plain INTEGER keys.
_Name = Text().with_variant(String(190), "mysql", "mariadb")  # Those want keys of known length.


class Base(DeclarativeBase):
    """What all tables belong to."""


class SessionRow(Base):
    """An operating session: from one start of the core to its end.

    ``layout_toml`` is the layout file's text as the engine read it. ``outset`` is JSON: how
    things stood when the session began, which the entries change from then on:
    ``{"stages": {switch: stage}, "phases": {spur: [phase, next]}, "foremen": {spur: word},
    "outputs": {thing: {output: shows}}, "faults": [[fault, at], ...]}``.
    ``tape_gap`` says in words why the tape lacks something, so that it can't replay to the
    session's entries; null while it is whole. ``opened`` says that a host opened it for work;
    what goes on between sessions is logged too.
    """

    __tablename__ = "session"
    id: Mapped[int] = mapped_column(_Counter, primary_key=True, autoincrement=True)
    layout_name: Mapped[str] = mapped_column(Text)
    layout_path: Mapped[str] = mapped_column(Text)
    layout_toml: Mapped[str] = mapped_column(Text)
    simulated: Mapped[bool]
    began_wall_us: Mapped[int] = mapped_column(BigInteger)
    ended_wall_us: Mapped[int | None] = mapped_column(BigInteger)
    ended_t_us: Mapped[int | None] = mapped_column(BigInteger)
    outset: Mapped[str] = mapped_column(Text)
    tape_gap: Mapped[str | None] = mapped_column(Text)
    opened: Mapped[bool] = mapped_column(server_default=true())


class TapeRow(Base):
    """One line of the session's tape: a raw reading, or an order that the core was given.

    A reading has ``contact`` and ``made`` (null: the contact is lost); an order has
    ``command`` and ``spur``, ``violation`` or ``cars``.
    """

    __tablename__ = "tape"
    id: Mapped[int] = mapped_column(_Counter, primary_key=True, autoincrement=True)
    session_id: Mapped[int] = mapped_column(ForeignKey("session.id"))
    t_us: Mapped[int] = mapped_column(BigInteger)
    contact: Mapped[str | None] = mapped_column(Text)
    made: Mapped[bool | None]
    command: Mapped[str | None] = mapped_column(Text)
    spur: Mapped[str | None] = mapped_column(Text)
    violation: Mapped[int | None]
    cars: Mapped[int | None]
    __table_args__ = (Index("tape_of_session", "session_id", "id"),)


class EntryRow(Base):
    """One entry of the core; ``line`` is its JSON line, as a replay prints it.

    ``at`` is the thing it is about (switch, spur, trap, contact or protection). ``seq`` is null
    in a box's own logbook; on a board it is the entry's id there, by which none comes twice.
    """

    __tablename__ = "entry"
    id: Mapped[int] = mapped_column(_Counter, primary_key=True, autoincrement=True)
    session_id: Mapped[int] = mapped_column(ForeignKey("session.id"))
    t_us: Mapped[int] = mapped_column(BigInteger)
    wall_us: Mapped[int] = mapped_column(BigInteger)
    what: Mapped[str] = mapped_column(Text)
    at: Mapped[str | None] = mapped_column(Text)
    spur: Mapped[str | None] = mapped_column(Text)
    line: Mapped[str] = mapped_column(Text)
    seq: Mapped[int | None] = mapped_column(BigInteger)
    __table_args__ = (
        Index("entry_of_session", "session_id", "id"),
        Index(
            "entry_of_node",
            "session_id",
            "seq",
            unique=True,
            sqlite_where=text("seq IS NOT NULL"),
            postgresql_where=text("seq IS NOT NULL"),
        ),
    )


class ViolationRow(Base):
    """A violation as it stands now: how often it came again, and who has acknowledged it."""

    __tablename__ = "violation"
    session_id: Mapped[int] = mapped_column(ForeignKey("session.id"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    t_us: Mapped[int] = mapped_column(BigInteger)
    wall_us: Mapped[int] = mapped_column(BigInteger)
    rule: Mapped[str] = mapped_column(Text)
    at: Mapped[str] = mapped_column(Text)
    spur: Mapped[str | None] = mapped_column(Text)
    missing: Mapped[str] = mapped_column(Text)
    times: Mapped[int]
    last_t_us: Mapped[int] = mapped_column(BigInteger)
    acknowledged_t_us: Mapped[int | None] = mapped_column(BigInteger)
    note: Mapped[str | None] = mapped_column(Text)


class StandingRow(Base):
    """How a contact stands now: its raw level and the value that the core believes.

    Null is unknown: the contact is lost, or has not settled yet.
    """

    __tablename__ = "standing"
    contact: Mapped[str] = mapped_column(_Name, primary_key=True)
    raw: Mapped[bool | None]
    settled: Mapped[bool | None]
    edges: Mapped[int]
    wall_us: Mapped[int] = mapped_column(BigInteger)


class RequestRow(Base):
    """Something the screen asks of the engine, and what the engine answered.

    ``kind`` is ``order`` (``command`` with ``spur``, ``violation`` or ``cars``), ``session``
    (``command`` is ``open`` or ``close``) or, on simulated pins only, ``hand`` (``contact`` and
    ``made``: a hand makes or breaks it).
    ``answered_wall_us`` is null until the engine has answered; then ``accepted`` and, where
    it was refused, ``why``.
    """

    __tablename__ = "request"
    id: Mapped[int] = mapped_column(_Counter, primary_key=True, autoincrement=True)
    wall_us: Mapped[int] = mapped_column(BigInteger)
    kind: Mapped[str] = mapped_column(Text)
    command: Mapped[str | None] = mapped_column(Text)
    spur: Mapped[str | None] = mapped_column(Text)
    violation: Mapped[int | None]
    cars: Mapped[int | None]
    note: Mapped[str | None] = mapped_column(Text)
    contact: Mapped[str | None] = mapped_column(Text)
    made: Mapped[bool | None]
    answered_wall_us: Mapped[int | None] = mapped_column(BigInteger)
    accepted: Mapped[bool | None]
    why: Mapped[str | None] = mapped_column(Text)
    __table_args__ = (Index("request_unanswered", "answered_wall_us", "id"),)


class RemarkRow(Base):
    """What the engine has to say for itself: started, stopped, a delay drawn, trouble met."""

    __tablename__ = "remark"
    id: Mapped[int] = mapped_column(_Counter, primary_key=True, autoincrement=True)
    session_id: Mapped[int | None] = mapped_column(ForeignKey("session.id"))
    t_us: Mapped[int | None] = mapped_column(BigInteger)
    wall_us: Mapped[int] = mapped_column(BigInteger)
    text: Mapped[str] = mapped_column(Text)


class PulseRow(Base):
    """One row, which the engine counts up about every two seconds while it is well.

    The screen watches ``beat`` against its own clock, so that no step of the wall clock can
    make a dead engine look alive. ``state`` is ``starting``, ``guarding`` or ``stopped``.
    """

    __tablename__ = "pulse"
    id: Mapped[int] = mapped_column(primary_key=True)
    beat: Mapped[int] = mapped_column(BigInteger)
    state: Mapped[str] = mapped_column(Text)
    session_id: Mapped[int | None]


class JobRow(Base):
    """A crew's work, as the host prepares it. It belongs to the layouts of one name.

    ``place`` orders the jobs of a layout. ``keys`` is a JSON list of key ids and ``stops`` one
    of ``{"spur", "pull": [{"car", "place"}], "spot": [{"car", "place"}], "note"}`` in the order
    of the work. ``rear`` is ``marker``, ``caboose`` or empty. ``dropped_wall_us`` is when the
    host took it away: a session that has worked it still knows it.
    """

    __tablename__ = "job"
    id: Mapped[int] = mapped_column(_Counter, primary_key=True, autoincrement=True)
    layout_name: Mapped[str] = mapped_column(Text)
    place: Mapped[int]
    name: Mapped[str] = mapped_column(Text)
    crew: Mapped[str] = mapped_column(Text)
    cars: Mapped[int]
    rear: Mapped[str] = mapped_column(Text)
    keys: Mapped[str] = mapped_column(Text)
    stops: Mapped[str] = mapped_column(Text)
    changed_wall_us: Mapped[int] = mapped_column(BigInteger)
    dropped_wall_us: Mapped[int | None] = mapped_column(BigInteger)


class TickRow(Base):
    """Something that a crew says it has done at a stop of its job, which no contact can see.

    ``stop`` counts from 0; ``step`` is one of the words of ``screen/ticks.py``. ``entry_id`` is
    the last entry of the log that the screen had read by then, which places it in the session.
    """

    __tablename__ = "tick"
    session_id: Mapped[int] = mapped_column(ForeignKey("session.id"), primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), primary_key=True)
    stop: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    step: Mapped[str] = mapped_column(_Name, primary_key=True)
    entry_id: Mapped[int] = mapped_column(BigInteger)
    wall_us: Mapped[int] = mapped_column(BigInteger)


class SettingRow(Base):
    """One of the screen's settings, or a secret of its own, by its name."""

    __tablename__ = "setting"
    name: Mapped[str] = mapped_column(_Name, primary_key=True)
    value: Mapped[str] = mapped_column(Text)


class SigninRow(Base):
    """A browser that has given the host's PIN: ``id_hash`` is of its cookie, which is not kept."""

    __tablename__ = "signin"
    id_hash: Mapped[str] = mapped_column(_Name, primary_key=True)
    token: Mapped[str] = mapped_column(Text)
    began_wall_us: Mapped[int] = mapped_column(BigInteger)


class AccessRow(Base):
    """Who came to the door: a right or a wrong PIN, a new one set, a sign-out."""

    __tablename__ = "access"
    id: Mapped[int] = mapped_column(_Counter, primary_key=True, autoincrement=True)
    wall_us: Mapped[int] = mapped_column(BigInteger)
    what: Mapped[str] = mapped_column(Text)
    whence: Mapped[str] = mapped_column(Text)


class CommissioningRow(Base):
    """A commissioning: every wire proven by a builder, and the record that he signs.

    The record's fields are those of 49 CFR 236.110: ``place``, the date (``signed_wall_us``),
    ``by_whom``, ``equipment``, ``results``, ``repairs`` and ``condition_left``, in words, and
    the day on which the next is due. All are empty or null until it is signed; only then it is a
    record. ``evidence`` is JSON of all that was seen, to go on with; ``findings`` a JSON list of
    ``{"kind", "names", "text", "do", "longest_us", "settle_us"}``.
    """

    __tablename__ = "commissioning"
    id: Mapped[int] = mapped_column(_Counter, primary_key=True, autoincrement=True)
    layout_name: Mapped[str] = mapped_column(Text)
    simulated: Mapped[bool]
    began_wall_us: Mapped[int] = mapped_column(BigInteger)
    evidence: Mapped[str] = mapped_column(Text)
    findings: Mapped[str] = mapped_column(Text)
    signed_wall_us: Mapped[int | None] = mapped_column(BigInteger)
    place: Mapped[str] = mapped_column(Text)
    by_whom: Mapped[str] = mapped_column(Text)
    equipment: Mapped[str] = mapped_column(Text)
    results: Mapped[str] = mapped_column(Text)
    repairs: Mapped[str] = mapped_column(Text)
    condition_left: Mapped[str] = mapped_column(Text)
    due_wall_us: Mapped[int | None] = mapped_column(BigInteger)


class NodeRow(Base):
    """A box whose log a board gathers, and how it fares as the board has judged it.

    ``state`` is a word of ``gathering/attendance.py``, and ``trouble`` what can't be read from
    it, in words. ``incarnation`` is the one that was heard last, ``session_id`` the session that
    its engine guards, ``heard_wall_us`` when it was last heard, by the board's clock.
    ``offset_us`` is how far its clock is ahead of the board's, null until that was measured.
    ``revision`` grows with every change of what belongs to it.
    """

    __tablename__ = "node"
    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(_Name, unique=True)
    incarnation: Mapped[str | None] = mapped_column(Text)
    state: Mapped[str] = mapped_column(Text)
    trouble: Mapped[str | None] = mapped_column(Text)
    session_id: Mapped[int | None] = mapped_column(BigInteger)
    heard_wall_us: Mapped[int] = mapped_column(BigInteger)
    offset_us: Mapped[int | None] = mapped_column(BigInteger)
    revision: Mapped[int] = mapped_column(BigInteger)


class IncarnationRow(Base):
    """A logbook that a box has or had, and how far a board has gathered it.

    A box with a new card, or one that took an old one's name, begins a new incarnation.
    ``entry_seq`` and ``remark_seq`` are the last ids gathered: they change in one transaction
    with what was gathered.
    """

    __tablename__ = "incarnation"
    id: Mapped[str] = mapped_column(_Name, primary_key=True)
    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"))
    entry_seq: Mapped[int] = mapped_column(BigInteger)
    remark_seq: Mapped[int] = mapped_column(BigInteger)
    began_wall_us: Mapped[int] = mapped_column(BigInteger)


class GatheredRow(Base):
    """Which session of which incarnation a session of a board's is; the board's own has none.

    ``offset_us`` is how far the box's clock was ahead as the session was first heard of.
    """

    __tablename__ = "gathered"
    session_id: Mapped[int] = mapped_column(ForeignKey("session.id"), primary_key=True)
    incarnation: Mapped[str] = mapped_column(ForeignKey("incarnation.id"))
    node_session: Mapped[int] = mapped_column(BigInteger)
    offset_us: Mapped[int] = mapped_column(BigInteger)
    __table_args__ = (Index("gathered_once", "incarnation", "node_session", unique=True),)


class ErrandRow(Base):
    """A board's request that was left in this box's logbook: ``id`` is the board's own for it.

    A request that comes twice finds its row here, and is not left again.
    """

    __tablename__ = "errand"
    id: Mapped[str] = mapped_column(_Name, primary_key=True)
    request_id: Mapped[int] = mapped_column(ForeignKey("request.id"))
