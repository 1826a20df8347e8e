import pytest
from sqlalchemy import inspect, text

from gatekeeper.history import HistoryAwayError
from gatekeeper.history.migrations import STEPS, bring_up, version_of
from gatekeeper.history.schema import VERSION, metadata

PROGRAM = "gatekeeper 9"


@pytest.fixture
def database(room, make):
    room.open().remember(make.filed())
    return room.database()


def add_a_column(connection):
    connection.execute(text("ALTER TABLE verdicts ADD COLUMN shift TEXT"))


def add_an_index(connection):
    connection.execute(text("CREATE INDEX verdicts_shift ON verdicts (shift)"))


def fail_halfway(connection):
    connection.execute(text("CREATE TABLE half (x TEXT)"))
    connection.execute(text("SELECT 1 FROM nowhere"))


def upgrade(database, steps):
    with database.writing() as connection:
        return bring_up(
            connection,
            at=database.now(),
            program=PROGRAM,
            steps=steps,
            version=max(steps),
        )


def test_every_version_behind_the_first_has_its_step():
    assert set(STEPS) == set(range(2, VERSION + 1))


def test_a_new_database_has_every_table_and_is_at_this_version(database):
    with database.reading() as connection:
        assert set(inspect(connection).get_table_names()) == set(metadata.tables)
        assert version_of(connection) == VERSION


def test_steps_are_applied_once_in_order_and_noted(room, database):
    steps = {VERSION + 1: add_a_column, VERSION + 2: add_an_index}
    assert upgrade(database, steps) == VERSION
    assert upgrade(database, steps) == VERSION + 2
    assert room.sql("SELECT version, step, program FROM schema_versions ORDER BY 1") == [
        (VERSION, "begun", "gatekeeper 0.1.0"),
        (VERSION + 1, "add_a_column", PROGRAM),
        (VERSION + 2, "add_an_index", PROGRAM),
    ]


def test_steps_that_fail_leave_the_database_as_it_was(room, database):
    before = room.dump()
    with pytest.raises(HistoryAwayError, match="no such table"):
        upgrade(database, {VERSION + 1: add_a_column, VERSION + 2: fail_halfway})
    assert room.dump() == before
    assert "shift" not in {row[1] for row in room.sql("PRAGMA table_info(verdicts)")}


def test_a_history_that_never_noted_its_version_is_not_one(room, database):
    room.sql("DELETE FROM schema_versions")
    with pytest.raises(HistoryAwayError, match="not a history"), database.reading() as connection:
        version_of(connection)
