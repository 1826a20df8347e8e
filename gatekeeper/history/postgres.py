"""PostgreSQL's own speech: everything that another database would say otherwise.

The gate waits for it only so long: connecting, a statement, a lock, and silence each have an end,
so that a server that is away, frozen or behind a dead line costs a job seconds and no decision.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, TypeVar

import psycopg
from psycopg.conninfo import make_conninfo
from sqlalchemy import QueuePool, create_engine, event
from typing_extensions import override

if TYPE_CHECKING:
    from collections.abc import Mapping

    from psycopg.abc import PQGen
    from sqlalchemy import Connection, Engine

    from gatekeeper.history.interface import Wait

CONNECT_S: Final = 3
"""Time to connect (s); a server that takes longer is away."""

SILENCE_S: Final = 5.0
"""How much longer than a statement may take its answer is waited for (s): the line may be dead."""

IDLE_S: Final = 120
"""A transaction that does nothing for so long is a fault; the server ends it (s)."""

_LOCKS: Final = 0x67617465
"""First half of the advisory locks: ours among those of other programs. Its letters are "gate"."""

_SESSION: Final = """SELECT
    set_config('lock_timeout', %(patience)s, false),
    set_config('statement_timeout', %(statement)s, false),
    set_config('idle_in_transaction_session_timeout', %(idle)s, false),
    set_config('timezone', 'UTC', false),
    set_config('synchronous_commit', CASE current_setting('synchronous_commit')
        WHEN 'off' THEN 'on' ELSE current_setting('synchronous_commit') END, false)"""

_GUARDS = (
    """CREATE FUNCTION events_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN RAISE EXCEPTION 'events are never changed'; END $$""",
    """CREATE TRIGGER events_refuse_change BEFORE UPDATE OR DELETE OR TRUNCATE ON events
    FOR EACH STATEMENT EXECUTE FUNCTION events_refuse()""",
    """CREATE FUNCTION events_only_appended() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        IF NEW.sequence IS DISTINCT FROM
            (SELECT COALESCE(MAX(sequence), 0) + 1 FROM events WHERE site = NEW.site)
        THEN RAISE EXCEPTION 'events are only appended'; END IF;
        RETURN NEW;
    END $$""",
    """CREATE TRIGGER events_only_appended BEFORE INSERT ON events
    FOR EACH ROW EXECUTE FUNCTION events_only_appended()""",
)

Answer = TypeVar("Answer")


class ImpatientConnection(psycopg.Connection[Any]):
    """A connection that ends when the server has been silent for too long."""

    silence_s: float = 30.0

    @override
    def wait(
        self,
        gen: PQGen[Answer],
        interval: float = 0.1,
        timeout: float | None = None,
    ) -> Answer:
        """Run one exchange with the server, at the longest `silence_s`."""
        try:
            return super().wait(gen, interval, self.silence_s if timeout is None else timeout)
        except psycopg.OperationalError as error:
            if error.sqlstate is None:  # not the server's word: the line is dead, or silent
                self.pgconn.finish()  # it may answer yet, to a question that nobody remembers
            raise


def engine_for(settings: Mapping[str, Any], *, wait: Wait) -> Engine:
    """Return an engine whose every connection has an end to its patience.

    Parameters
    ----------
    settings : what the driver's library takes: host, port, dbname, user, password, …
    wait : how long a statement, or the wait for a lock, may take
    """

    def connect() -> psycopg.Connection[Any]:
        connection = ImpatientConnection.connect(
            make_conninfo("", **{"connect_timeout": CONNECT_S, **_LINE, **settings})
        )
        connection.silence_s = wait.answer_s + SILENCE_S
        given = {
            "patience": f"{int(wait.lock_s * 1000)}",
            "statement": f"{int(wait.answer_s * 1000)}",
            "idle": f"{IDLE_S}s",
        }
        connection.execute(_SESSION, given)
        connection.commit()
        return connection

    engine = create_engine(
        "postgresql+psycopg://", creator=connect, poolclass=QueuePool, pool_pre_ping=True
    )
    event.listen(engine, "begin", _begin)
    return engine


_LINE: Final = {
    "application_name": "gatekeeper",
    "keepalives_idle": 10,
    "keepalives_interval": 5,
    "keepalives_count": 3,
    "tcp_user_timeout": 15_000,  # ms; what was sent and never acknowledged
}


def _begin(connection: Connection) -> None:
    """Give a reader one moment of the history, and let writers of one site take turns.

    Two gates of a site would else both append event number 8. The lock ends with the transaction.
    """
    options = connection.get_execution_options()
    if options.get("hurries", False):
        connection.exec_driver_sql("SET LOCAL lock_timeout = 1")  # ms; 0 would be for ever
    if not options.get("writes", False):
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        return
    if options.get("prepares", False):  # tables are made once, whichever site comes first
        connection.exec_driver_sql("SELECT pg_advisory_xact_lock(%s, 0)", (_LOCKS,))
    connection.exec_driver_sql(
        "SELECT pg_advisory_xact_lock(%s, hashtext(%s))", (_LOCKS, options.get("site", ""))
    )


def guard_events(connection: Connection) -> None:
    """Make the server refuse every change to `events` but the next one behind the last."""
    for statement in _GUARDS:
        connection.exec_driver_sql(statement)


def count_on(connection: Connection, table: str, highest: int) -> None:
    """Let a table's own numbers go on behind the highest that is in use."""
    if highest:
        connection.exec_driver_sql(
            "SELECT setval(pg_get_serial_sequence(%s, 'id'), %s)", (table, highest)
        )


def encoding_of(connection: Connection) -> str:
    """Return the encoding of the database: only UTF-8 takes every name."""
    return str(connection.exec_driver_sql("SHOW server_encoding").scalar_one())


def is_copy(connection: Connection) -> bool:
    """Whether the server only follows another one, and takes no changes."""
    return bool(connection.exec_driver_sql("SELECT pg_is_in_recovery()").scalar_one())


PASSING = frozenset({"55P03", "57014", "53100", "40001", "40P01"})
"""Locked, too slow, disk full, in one another's way: the connection is sound."""

_WORDS: Final = {
    "08": ("the history's server is away", "jobs are judged and filed without it"),
    "28": (
        "the history's server refuses the login",
        "see to `history` and `history_password_file` in site.yaml, and to pg_hba.conf there",
    ),
    "3D": ("the history's server has no such database", "make it: createdb NAME"),
    "42501": (
        "this account may not do that with the history",
        "see `gatekeeper history rights`",
    ),
    "25006": ("the history's server takes no changes", "name the server that does in site.yaml"),
    "53100": ("the disk of the history's server is full", "make room on it"),
    "53300": ("the history's server has no connection left", "raise its max_connections"),
    "55P03": ("another program holds the history locked", "wait, or end that program"),
    "57014": ("the history's server takes too long", "see what else it does"),
    "57": ("the history's server is closing down", "jobs are judged and filed without it"),
    "XX": ("the history's server reports damage", "see to the server's disk and its log"),
}


def code_of(error: BaseException | None) -> str:
    """Return the SQLSTATE of an error, "" for one that came from no server."""
    return (error.sqlstate or "") if isinstance(error, psycopg.Error) else ""


def words_for(error: BaseException | None) -> tuple[str, str]:
    """Return what is wrong and what to do, for an error that the driver raised."""
    code = code_of(error)
    says = " ".join(str(error).split())[:300]
    if not code and isinstance(error, psycopg.OperationalError):
        what, do = _login(says) or _WORDS["08"]
        return f"{what}: {says}" if says else what, do
    for known in (code, code[:2]):
        if known in _WORDS:
            what, do = _WORDS[known]
            return f"{what}: {says}", do
    return f"the history cannot be used: {says}", "see to the server and its log"


def _login(says: str) -> tuple[str, str] | None:
    """Return the words for what went wrong while connecting, which comes without a code."""
    if "authentication failed" in says or "no password supplied" in says or "pg_hba" in says:
        return _WORDS["28"]
    if says.endswith("does not exist") and "database" in says:
        return _WORDS["3D"]
    return None
