"""What only a server can do: be away, refuse, fall silent, be shared and be frozen."""

import subprocess
import sys
import threading
from pathlib import Path

import pytest
from click.testing import CliRunner

from gatekeeper.cli.entry import gatekeeper
from gatekeeper.history import HistoryAwayError, NoHistoryYetError, Wait, open_history

ROOT = Path(__file__).parents[3]
SECRET = "not on the shelf"  # noqa: S105 -- of a server that lives as long as this run


@pytest.fixture
def make_room(server_room):
    return server_room


def with_login(room, role, **more):
    """Return the history as an account opens it."""
    history = open_history(
        room.server.url(room.name, role),
        base=room.folder,
        site="north",
        clock=room.clock,
        program="gatekeeper",
        wait=Wait(lock_s=5, pause_s=0),
        **more,
    )
    room.opened.append(history)
    return history


@pytest.fixture
def role(room):
    """An account with a password, and the file that the password lies in."""
    name = f"{room.name}_role"
    room.sql(f"CREATE ROLE {name} LOGIN PASSWORD '{SECRET}'")
    room.sql(f"GRANT USAGE ON SCHEMA {room.name} TO {name}")
    file = room.folder / "password"
    file.write_text(SECRET + "\n")
    file.chmod(0o600)
    return name


def test_a_password_lies_in_a_file_of_its_own(room, role):
    room.sql(f"GRANT CREATE ON SCHEMA {room.name} TO {role}")
    assert with_login(room, role, password_file="password").jobs() == ()  # noqa: S106


def test_libpqs_own_file_of_passwords_serves_as_well(room, role, monkeypatch):
    room.sql(f"GRANT CREATE ON SCHEMA {room.name} TO {role}")
    file = room.folder / "pgpass"
    file.write_text(f"*:*:*:{role}:{SECRET}\n")
    file.chmod(0o600)
    monkeypatch.setenv("PGPASSFILE", str(file))
    assert with_login(room, role).jobs() == ()


def test_a_password_that_others_may_read_is_not_used(room, role):
    (room.folder / "password").chmod(0o640)
    with pytest.raises(HistoryAwayError, match="others than the daemon's user may read") as caught:
        with_login(room, role, password_file="password").jobs()  # noqa: S106
    assert "chmod 600" in caught.value.do


@pytest.mark.parametrize(
    ("file", "says"), [("", "refuses the login"), ("missing", "cannot be reached: No such file")]
)
def test_a_login_without_its_password_is_said(room, role, file, says):
    with pytest.raises(HistoryAwayError, match=says):
        with_login(room, role, password_file=file or None).jobs()


def test_a_wrong_password_is_said_and_never_repeated(room, role):
    (room.folder / "password").write_text("of last year")
    with pytest.raises(HistoryAwayError, match="refuses the login") as caught:
        with_login(room, role, password_file="password").jobs()  # noqa: S106
    assert "last year" not in str(caught.value)


def test_a_database_that_is_not_there_is_said(room):
    history = open_history(
        room.url.replace("/postgres?", "/platez?"),
        base=room.folder,
        site="north",
        clock=room.clock,
        program="gatekeeper",
    )
    with pytest.raises(HistoryAwayError, match="no such database"):
        history.jobs()


def test_nothing_is_made_for_whoever_only_looks(room):
    with pytest.raises(NoHistoryYetError):
        room.look().jobs()
    assert room.tables() == []


def test_tables_of_something_else_are_left_alone(room):
    room.sql("CREATE TABLE pigeons (x int)")
    with pytest.raises(HistoryAwayError, match="not a history"):
        room.open().jobs()
    assert room.tables() == ["pigeons"]


def said_by(*words):
    done = CliRunner().invoke(gatekeeper, ["history", "rights", *words], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def test_a_leads_account_reads_everything_and_changes_nothing(room, role, make):
    room.open().remember(make.filed())
    room.sql(said_by("--reader", role))
    reading = with_login(room, role, password_file="password")  # noqa: S106
    with pytest.raises(HistoryAwayError, match="may not do that"):
        reading.remember(make.filed("t002"))
    assert [line.job for line in room.look().jobs()] == ["1041"]
    for statement in (
        "INSERT INTO tallies VALUES ('north', 'w', 'held', 1)",
        "UPDATE verdicts SET decision = 'approved'",
        "DELETE FROM readings",
        "TRUNCATE events CASCADE",
        "DROP TABLE findings",
        "ALTER TABLE events DISABLE TRIGGER USER",
    ):
        with pytest.raises(Exception, match=r"permission denied|must be owner"):
            room.sql(f"SET ROLE {role}; {statement}")
    room.sql(f"SET ROLE {role}; SELECT * FROM events, verdicts, readings, rule_sets")  # noqa: S608


def test_a_gates_account_records_and_cannot_change_what_was_recorded(room, role, make):
    with room.open() as owner:
        owner.jobs()
    room.sql(said_by("--gate", role))
    gate = with_login(room, role, password_file="password")  # noqa: S106
    gate.remember(make.filed("t001"))
    gate.remember(make.filed("t002"))
    assert [past.line.ticket for past in gate.job("1041")] == ["t002", "t001"]
    assert gate.verify().broken is None
    for statement in (
        "UPDATE verdicts SET decision = 'approved'",
        "UPDATE events SET subject = 'x'",
        "DELETE FROM events",
        "ALTER TABLE events DISABLE TRIGGER USER",
    ):
        with pytest.raises(Exception, match=r"permission denied|must be owner"):
            room.sql(f"SET ROLE {role}; {statement}")


@pytest.mark.parametrize("name", ['le"ad', "x; DROP TABLE events; --", "Lead"])
def test_the_name_of_an_account_is_never_taken_for_sql(room, name):
    room.open().jobs()
    role = name.replace('"', '""')
    room.sql(f'CREATE ROLE "{role}"')
    room.sql(said_by("--reader", name))
    assert "events" in room.tables()
    assert room.sql("SELECT has_table_privilege(%s, 'events', 'SELECT')", name) == [(True,)]
    room.sql(f'DROP OWNED BY "{role}"; DROP ROLE "{role}"')


def test_sites_that_begin_at_once_make_the_tables_once(room, make):
    failures = []

    def begin(site):
        try:
            room.open(site).remember(make.filed("t001", site=site))
        except HistoryAwayError as error:
            failures.append(error)

    threads = [threading.Thread(target=begin, args=(f"room {number}",)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert room.sql("SELECT count(*), count(DISTINCT site) FROM verdicts") == [(6, 6)]
    assert room.sql("SELECT count(*) FROM schema_versions") == [(1,)]


def test_two_gates_of_one_site_told_the_same_tickets_record_each_once(room, make):
    def tell(order):
        history = room.open()
        for number in order:
            history.remember(make.filed(f"t{number:03}", job=f"J{number}"))

    orders = (range(30), range(29, -1, -1), range(0, 30, 2))
    threads = [threading.Thread(target=tell, args=(order,)) for order in orders]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    history = room.open()
    assert (len(history.jobs()), history.counts().approved) == (30, 30)
    assert (history.verify().events, history.verify().broken) == (31, None)


def test_a_server_that_restarts_costs_nobody_a_word(room, make):
    history = room.open()
    history.remember(make.filed("t001"))
    room.server.stop()
    with pytest.raises(HistoryAwayError, match="server is away"):
        history.remember(make.filed("t002"))
    room.server.start()
    history.remember(make.filed("t002"))
    room.server.stop()
    room.server.start()
    history.remember(make.filed("t003"))  # the lines that died meanwhile are seen and replaced
    assert [past.line.ticket for past in history.job("1041")] == ["t003", "t002", "t001"]


def test_a_server_that_falls_silent_is_not_waited_for_without_end(room, make, monkeypatch):
    monkeypatch.setattr("gatekeeper.history.postgres.SILENCE_S", 0.3)
    history = room.open(wait=Wait(lock_s=0.2, answer_s=0.3, pause_s=0))
    history.remember(make.filed("t001"))
    room.server.pause()
    try:
        with pytest.raises(HistoryAwayError, match="server is away"):
            history.remember(make.filed("t002"))
        with pytest.raises(HistoryAwayError, match="server is away"):
            history.jobs()
    finally:
        room.server.go_on()
    history.remember(make.filed("t002"))
    assert len(history.job("1041")) == 2


def test_another_programs_lock_is_waited_for_only_so_long(room, make):
    history = room.open(wait=Wait(lock_s=0.2, pause_s=0))
    history.remember(make.filed("t001"))
    with room.database().writing(), pytest.raises(HistoryAwayError, match="holds the history lock"):
        history.remember(make.filed("t002"))
    history.remember(make.filed("t002"))


def test_a_lock_that_was_met_a_moment_ago_is_not_waited_for_again(room, make):
    history = room.open(wait=Wait(lock_s=0.05, pause_s=30))
    history.remember(make.filed("t001"))
    with room.database().writing():
        with pytest.raises(HistoryAwayError, match="holds the history lock"):
            history.remember(make.filed("t002"))
        assert patience_of(history) == "1ms"
    history.remember(make.filed("t002"))
    assert patience_of(history) == "50ms"  # nothing is the matter any more


def patience_of(history):
    """Return how long the next transaction waits for a lock."""
    with history._database.reading() as connection:  # noqa: SLF001 -- what it waits shows nowhere else
        return connection.exec_driver_sql("SHOW lock_timeout").scalar_one()


def test_an_end_of_the_chain_that_does_not_hold_is_kept_and_said(room, make):
    with room.open() as history:
        history.remember(make.filed("t001"))
    room.forge("UPDATE events SET subject = 'x' WHERE sequence = 2")
    before = room.dump()
    with pytest.raises(HistoryAwayError, match="does not hold"):
        room.open().remember(make.filed("t002"))
    assert room.dump() == before
    room.open("south").remember(make.filed("t001", site="south"))  # a chain of its own


def test_a_copy_is_left_to_the_servers_own_tools(room, tmp_path):
    with pytest.raises(HistoryAwayError, match="copied by the server's own tools"):
        room.open().backup(tmp_path / "copy")


def test_a_missing_driver_is_said_with_its_extra(room):
    code = f"""
import sys
from pathlib import Path
sys.modules["psycopg"] = None
from gatekeeper.clock import SystemClock
from gatekeeper.history import HistoryAwayError, read_history
try:
    read_history({room.url!r}, base=Path(), site="n", clock=SystemClock())
except HistoryAwayError as error:
    print(error.do)
"""
    done = subprocess.run(  # noqa: S603 -- our own interpreter and code
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert "gatekeeper[postgres]" in done.stdout


@pytest.mark.parametrize("job", ["x" * 20_000, "".join(map(chr, range(0x4E00, 0x4E00 + 9000)))])
def test_a_name_of_any_length_is_recorded(room, make, job):
    history = room.open()
    more = {"folder": "held/w/short", "customer": job, "workflow": job}
    history.remember(make.filed("t001", job=job, **more))
    assert [past.verdict.job for past in history.job(job)] == [job]
