"""The logbook's tables, as SQLAlchemy Core's.

The engine writes every table but ``request``; the screen reads them all and adds requests. From
``job`` on, the tables are the screen's own, the builder's (``commissioning``, ``sitting``) and
the club's (from ``node`` on): the engine neither reads nor writes them.
Times: ``t_us`` is session time in microseconds (monotonic, 0 at the session's start),
``wall_us`` is microseconds since 1970 UTC by the wall clock, which may be wrong or step.

A change here needs a migration in ``migrations/versions`` and a line in ``versions.py``.
No ORM: it would take a third as long to load as all else that a start loads, for nothing.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    text,
    true,
)

_Counter = BigInteger().with_variant(Integer, "sqlite")  # SQLite counts only plain INTEGER keys.
_Name = Text().with_variant(String(190), "mysql", "mariadb")  # Those want keys of known length.

METADATA = MetaData()
"""What all tables belong to."""

SESSION = Table(
    "session",
    METADATA,
    Column("id", _Counter, primary_key=True, autoincrement=True),
    Column("layout_name", Text, nullable=False),
    Column("layout_path", Text, nullable=False),
    Column("layout_toml", Text, nullable=False),
    Column("simulated", Boolean, nullable=False),
    Column("began_wall_us", BigInteger, nullable=False),
    Column("ended_wall_us", BigInteger),
    Column("ended_t_us", BigInteger),
    Column("outset", Text, nullable=False),
    Column("tape_gap", Text),
    Column("opened", Boolean, server_default=true(), nullable=False),
)
"""An operating session: from one start of the core to its end.

``layout_toml`` is the layout file's text as the engine read it. ``outset`` is JSON: how
things stood when the session began, which the entries change from then on:
``{"stages": {switch: stage}, "phases": {spur: [phase, next]}, "foremen": {spur: word},
"outputs": {thing: {output: shows}}, "faults": [[fault, at], ...]}``.
``tape_gap`` says in words why the tape lacks something, so that it can't replay to the
session's entries; null while it is whole. ``opened`` says that a host opened it for work;
what goes on between sessions is logged too.
"""

TAPE = Table(
    "tape",
    METADATA,
    Column("id", _Counter, primary_key=True, autoincrement=True),
    Column("session_id", ForeignKey("session.id"), nullable=False),
    Column("t_us", BigInteger, nullable=False),
    Column("contact", Text),
    Column("made", Boolean),
    Column("command", Text),
    Column("spur", Text),
    Column("violation", Integer),
    Column("cars", Integer),
    Index("tape_of_session", "session_id", "id"),
)
"""One line of the session's tape: a raw reading, or an order that the core was given.

A reading has ``contact`` and ``made`` (null: the contact is lost); an order has
``command`` and ``spur``, ``violation`` or ``cars``.
"""

ENTRY = Table(
    "entry",
    METADATA,
    Column("id", _Counter, primary_key=True, autoincrement=True),
    Column("session_id", ForeignKey("session.id"), nullable=False),
    Column("t_us", BigInteger, nullable=False),
    Column("wall_us", BigInteger, nullable=False),
    Column("what", Text, nullable=False),
    Column("at", Text),
    Column("spur", Text),
    Column("line", Text, nullable=False),
    Column("seq", BigInteger),
    Index("entry_of_session", "session_id", "id"),
    Index(
        "entry_of_node",
        "session_id",
        "seq",
        unique=True,
        sqlite_where=text("seq IS NOT NULL"),  # To name PostgreSQL here would load all of it.
    ),
)
"""One entry of the core; ``line`` is its JSON line, as a replay prints it.

``at`` is the thing it is about (switch, spur, trap, contact or protection). ``seq`` is null
in a box's own logbook; on a board it is the entry's id there, by which none comes twice.
"""

VIOLATION = Table(
    "violation",
    METADATA,
    Column("session_id", ForeignKey("session.id"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("t_us", BigInteger, nullable=False),
    Column("wall_us", BigInteger, nullable=False),
    Column("rule", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("spur", Text),
    Column("missing", Text, nullable=False),
    Column("times", Integer, nullable=False),
    Column("last_t_us", BigInteger, nullable=False),
    Column("acknowledged_t_us", BigInteger),
    Column("note", Text),
)
"""A violation as it stands now: how often it came again, and who has acknowledged it."""

STANDING = Table(
    "standing",
    METADATA,
    Column("contact", _Name, primary_key=True),
    Column("raw", Boolean),
    Column("settled", Boolean),
    Column("edges", Integer, nullable=False),
    Column("wall_us", BigInteger, nullable=False),
)
"""How a contact stands now: its raw level and the value that the core believes.

Null is unknown: the contact is lost, or has not settled yet.
"""

REQUEST = Table(
    "request",
    METADATA,
    Column("id", _Counter, primary_key=True, autoincrement=True),
    Column("wall_us", BigInteger, nullable=False),
    Column("kind", Text, nullable=False),
    Column("command", Text),
    Column("spur", Text),
    Column("violation", Integer),
    Column("cars", Integer),
    Column("note", Text),
    Column("contact", Text),
    Column("made", Boolean),
    Column("answered_wall_us", BigInteger),
    Column("accepted", Boolean),
    Column("why", Text),
    Column("output", Text),
    Index("request_unanswered", "answered_wall_us", "id"),
)
"""Something the screen asks of the engine, and what the engine answered.

``kind`` is ``order`` (``command`` with ``spur``, ``violation`` or ``cars``), ``session``
(``command`` is ``open`` or ``close``), ``by-hand`` (``output`` as ``thing.output``, and
``command``: what it is to show, or ``back``; ``note`` says whose hand it is), on simulated
pins only, ``hand`` (``contact`` and ``made``: a hand makes or breaks it) or, of a
commissioning's sitting and not of the engine, ``commission`` (``note`` is JSON of
``firmware_py.commissioning.asking.Asked``).
``answered_wall_us`` is null until the engine has answered; then ``accepted`` and, where
it was refused, ``why``.
"""

BY_HAND = Table(
    "by_hand",
    METADATA,
    Column("output", _Name, primary_key=True),
    Column("shows", Text, nullable=False),
    Column("whence", Text, nullable=False),
    Column("since_t_us", BigInteger, nullable=False),
    Column("until_t_us", BigInteger, nullable=False),
    Column("until_wall_us", BigInteger, nullable=False),
)
"""An output that a host works by hand now, ``thing.output``, and so a restriction.

It ``shows`` what the hand wants, not what the core says, until ``until_t_us``. ``whence`` is
the address of the host's browser. Every start of the engine, and of a session, empties it.
"""

REMARK = Table(
    "remark",
    METADATA,
    Column("id", _Counter, primary_key=True, autoincrement=True),
    Column("session_id", ForeignKey("session.id")),
    Column("t_us", BigInteger),
    Column("wall_us", BigInteger, nullable=False),
    Column("text", Text, nullable=False),
)
"""What the engine has to say for itself: started, stopped, a delay drawn, trouble met."""

PULSE = Table(
    "pulse",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("beat", BigInteger, nullable=False),
    Column("state", Text, nullable=False),
    Column("session_id", Integer),
)
"""One row, which the engine counts up about every two seconds while it is well.

The screen watches ``beat`` against its own clock, so that no step of the wall clock can
make a dead engine look alive. ``state`` is ``starting``, ``guarding`` or ``stopped``.
"""

JOB = Table(
    "job",
    METADATA,
    Column("id", _Counter, primary_key=True, autoincrement=True),
    Column("layout_name", Text, nullable=False),
    Column("place", Integer, nullable=False),
    Column("name", Text, nullable=False),
    Column("crew", Text, nullable=False),
    Column("cars", Integer, nullable=False),
    Column("rear", Text, nullable=False),
    Column("keys", Text, nullable=False),
    Column("stops", Text, nullable=False),
    Column("changed_wall_us", BigInteger, nullable=False),
    Column("dropped_wall_us", BigInteger),
)
"""A crew's work, as the host prepares it. It belongs to the layouts of one name.

``place`` orders the jobs of a layout. ``keys`` is a JSON list of key ids and ``stops`` one
of ``{"spur", "pull": [{"car", "place"}], "spot": [{"car", "place"}], "note"}`` in the order
of the work. ``rear`` is ``marker``, ``caboose`` or empty. ``dropped_wall_us`` is when the
host took it away: a session that has worked it still knows it.
"""

TICK = Table(
    "tick",
    METADATA,
    Column("session_id", ForeignKey("session.id"), primary_key=True),
    Column("job_id", ForeignKey("job.id"), primary_key=True),
    Column("stop", Integer, primary_key=True, autoincrement=False),
    Column("step", _Name, primary_key=True),
    Column("entry_id", BigInteger, nullable=False),
    Column("wall_us", BigInteger, nullable=False),
)
"""Something that a crew says it has done at a stop of its job, which no contact can see.

``stop`` counts from 0; ``step`` is one of the words of ``screen/ticks.py``. ``entry_id`` is
the last entry of the log that the screen had read by then, which places it in the session.
"""

SETTING = Table(
    "setting",
    METADATA,
    Column("name", _Name, primary_key=True),
    Column("value", Text, nullable=False),
)
"""One of the screen's settings, or a secret of its own, by its name."""

SIGNIN = Table(
    "signin",
    METADATA,
    Column("id_hash", _Name, primary_key=True),
    Column("token", Text, nullable=False),
    Column("began_wall_us", BigInteger, nullable=False),
)
"""A browser that has given the host's PIN: ``id_hash`` is of its cookie, which is not kept."""

ACCESS = Table(
    "access",
    METADATA,
    Column("id", _Counter, primary_key=True, autoincrement=True),
    Column("wall_us", BigInteger, nullable=False),
    Column("what", Text, nullable=False),
    Column("whence", Text, nullable=False),
)
"""Who came to the door: a right or a wrong PIN, a new one set, a sign-out."""

COMMISSIONING = Table(
    "commissioning",
    METADATA,
    Column("id", _Counter, primary_key=True, autoincrement=True),
    Column("layout_name", Text, nullable=False),
    Column("simulated", Boolean, nullable=False),
    Column("began_wall_us", BigInteger, nullable=False),
    Column("evidence", Text, nullable=False),
    Column("findings", Text, nullable=False),
    Column("signed_wall_us", BigInteger),
    Column("place", Text, nullable=False),
    Column("by_whom", Text, nullable=False),
    Column("equipment", Text, nullable=False),
    Column("results", Text, nullable=False),
    Column("repairs", Text, nullable=False),
    Column("condition_left", Text, nullable=False),
    Column("due_wall_us", BigInteger),
)
"""A commissioning: every wire proven by a builder, and the record that he signs.

The record's fields are those of 49 CFR 236.110: ``place``, the date (``signed_wall_us``),
``by_whom``, ``equipment``, ``results``, ``repairs`` and ``condition_left``, in words, and
the day on which the next is due. All are empty or null until it is signed; only then it is a
record. ``evidence`` is JSON of all that was seen, to go on with; ``findings`` a JSON list of
``{"kind", "names", "text", "do", "longest_us", "settle_us"}``.
"""

SITTING = Table(
    "sitting",
    METADATA,
    Column("id", _Counter, primary_key=True, autoincrement=True),
    Column("commissioning_id", ForeignKey("commissioning.id"), nullable=False),
    Column("about", Text, nullable=False),
    Column("shown", Text, nullable=False),
    Column("beat", BigInteger, nullable=False),
    sqlite_autoincrement=True,  # A number that a page has seen never comes again.
)
"""A sitting at a commissioning that pages can watch: the newest, and no other.

``about`` is JSON of what stays the same while it lasts, ``shown`` of what is so now, both in
the shapes of ``firmware_py.commissioning.showing``. ``beat`` is counted up with every change,
and about once a second without one: the screen watches it against its own clock, as it does
an engine's pulse.
"""

FORECAST = Table(
    "forecast",
    METADATA,
    Column("id", _Counter, primary_key=True, autoincrement=True),
    Column("layout_name", Text, nullable=False),
    Column("wall_us", BigInteger, nullable=False),
    Column("answer", Text, nullable=False),
)
"""A forecast as it was made: ``answer`` is JSON of ``firmware_py.forecast.words.Answer``.

It is for the session that was opened next on a layout of that name.
"""

LOCOMOTIVE = Table(
    "locomotive",
    METADATA,
    Column("id", _Counter, primary_key=True, autoincrement=True),
    Column("layout_name", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("drive", Text, nullable=False),
    Column("runs", Text, nullable=False),
    Column("wanted", Text, nullable=False),
    Column("stop", Text, nullable=False),
    Column("changed_wall_us", BigInteger, nullable=False),
    Column("dropped_wall_us", BigInteger),
)
"""A locomotive whose pace was measured, at the layouts of one name.

All of it is JSON: ``drive`` the settings that were in force as it was measured, ``runs`` a
list of its passes, ``wanted`` what the host wants of it, ``stop`` the stop that was measured
or null (shapes: ``screen/locomotives.py``). ``dropped_wall_us`` is when the host took it away.
"""

ROLL = Table(
    "roll",
    METADATA,
    Column("id", _Counter, primary_key=True, autoincrement=True),
    Column("layout_name", Text, nullable=False),
    Column("car", Text, nullable=False),
    Column("measured", Text, nullable=False),
    Column("wall_us", BigInteger, nullable=False),
)
"""A roll test of a car: ``measured`` is JSON of what was measured, and how."""

NODE = Table(
    "node",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("name", _Name, unique=True, nullable=False),
    Column("incarnation", Text),
    Column("state", Text, nullable=False),
    Column("trouble", Text),
    Column("session_id", BigInteger),
    Column("heard_wall_us", BigInteger, nullable=False),
    Column("offset_us", BigInteger),
    Column("revision", BigInteger, nullable=False),
)
"""A box whose log a board gathers, and how it fares as the board has judged it.

``state`` is a word of ``gathering/attendance.py``, and ``trouble`` what can't be read from
it, in words. ``incarnation`` is the one that was heard last, ``session_id`` the session that
its engine guards, ``heard_wall_us`` when it was last heard, by the board's clock.
``offset_us`` is how far its clock is ahead of the board's, null until that was measured.
``revision`` grows with every change of what belongs to it.
"""

INCARNATION = Table(
    "incarnation",
    METADATA,
    Column("id", _Name, primary_key=True),
    Column("node_id", ForeignKey("node.id"), nullable=False),
    Column("entry_seq", BigInteger, nullable=False),
    Column("remark_seq", BigInteger, nullable=False),
    Column("began_wall_us", BigInteger, nullable=False),
)
"""A logbook that a box has or had, and how far a board has gathered it.

A box with a new card, or one that took an old one's name, begins a new incarnation.
``entry_seq`` and ``remark_seq`` are the last ids gathered: they change in one transaction
with what was gathered.
"""

GATHERED = Table(
    "gathered",
    METADATA,
    Column("session_id", ForeignKey("session.id"), primary_key=True),
    Column("incarnation", ForeignKey("incarnation.id"), nullable=False),
    Column("node_session", BigInteger, nullable=False),
    Column("offset_us", BigInteger, nullable=False),
    Index("gathered_once", "incarnation", "node_session", unique=True),
)
"""Which session of which incarnation a session of a board's is; the board's own has none.

``offset_us`` is how far the box's clock was ahead as the session was first heard of.
"""

ERRAND = Table(
    "errand",
    METADATA,
    Column("id", _Name, primary_key=True),
    Column("request_id", ForeignKey("request.id"), nullable=False),
)
"""A board's request that was left in this box's logbook: ``id`` is the board's own for it.

A request that comes twice finds its row here, and is not left again.
"""
