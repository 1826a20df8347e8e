import shutil

import pytest
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import inspect

from gatekeeper.history import HistoryAwayError
from gatekeeper.history.migrations import CURRENT, Goal, version_of
from gatekeeper.history.schema import VERSION, metadata

STEP = """
from alembic import op
import sqlalchemy as sa

revision = "{version}"
down_revision = "{before}"


def upgrade():
    {does}
"""
A_COLUMN = 'op.add_column("verdicts", sa.Column("shift", sa.Text()))'
AN_INDEX = 'op.create_index("verdicts_shift", "verdicts", ["shift"])'
HALF = 'op.create_table("half", sa.Column("x", sa.Text())); op.execute("SELECT 1 FROM nowhere")'


@pytest.fixture
def goal_of(tmp_path):
    """Return a later program: its version, and this one's steps with those of the test behind."""

    def make(**steps):
        scripts = tmp_path / f"steps 100%-{'-'.join(steps)}"
        shutil.copytree(CURRENT.scripts, scripts, ignore=shutil.ignore_patterns("__pycache__"))
        version = VERSION
        for name, does in steps.items():
            version += 1
            text = STEP.format(version=version, before=version - 1, does=does)
            (scripts / "versions" / f"v{version}_{name}.py").write_text(text)
        return Goal(version, scripts)

    return make


@pytest.fixture
def begun(room, make):
    """A history of this version with one verdict."""
    with room.open() as history:
        history.remember(make.filed())
    return room


def led_to(room, goal):
    """Open as the later program does."""
    more = {"may_upgrade": True} if room.kind == "postgresql" else {}
    return room.database(goal=goal, **more)


def steps_noted(room):
    return room.sql("SELECT version, step FROM schema_versions ORDER BY 1")


def test_a_new_database_has_every_table_and_is_at_this_version(begun):
    with begun.database(writable=False).reading() as connection:
        assert set(inspect(connection).get_table_names()) == set(metadata.tables)
        assert version_of(connection) == VERSION
    assert steps_noted(begun) == [(VERSION, "begun")]


def test_steps_are_applied_once_in_order_and_noted(begun, goal_of):
    goal = goal_of(a_column=A_COLUMN, an_index=AN_INDEX)
    for _ in range(2):
        database = led_to(begun, goal)
        with database.reading() as connection:
            assert version_of(connection) == VERSION + 2
        database.close()
    assert steps_noted(begun) == [
        (VERSION, "begun"),
        (VERSION + 1, f"v{VERSION + 1}_a_column"),
        (VERSION + 2, f"v{VERSION + 2}_an_index"),
    ]
    assert "shift" in begun.columns("verdicts")
    kinds = [kind for (kind,) in begun.sql("SELECT kind FROM events ORDER BY sequence")]
    assert kinds == ["history begun", "verdict", "history upgraded"]


def test_a_history_one_step_behind_gets_the_step_that_it_lacks(begun, goal_of):
    with led_to(begun, goal_of(a_column=A_COLUMN)).reading():
        pass
    with led_to(begun, goal_of(a_column=A_COLUMN, an_index=AN_INDEX)).reading():
        pass
    assert [version for version, _ in steps_noted(begun)] == [VERSION, VERSION + 1, VERSION + 2]


def test_steps_that_fail_leave_the_database_as_it_was(begun, goal_of):
    before = begun.dump()
    database = led_to(begun, goal_of(a_column=A_COLUMN, half=HALF))
    with pytest.raises(HistoryAwayError, match="nowhere"), database.writing():
        pass
    database.close()
    assert begun.dump() == before
    assert "shift" not in begun.columns("verdicts")


def test_a_file_is_copied_before_it_is_upgraded_and_the_copy_is_the_way_back(
    file_room, goal_of, make
):
    room = file_room()
    with room.open() as history:
        history.remember(make.filed("t001"))
    before = room.dump()
    database = led_to(room, goal_of(a_column=A_COLUMN))
    with database.writing():
        pass
    database.close()
    (copy,) = room.folder.glob(f"history.sqlite.version-{VERSION}-*Z")
    assert room.dump(copy) == before
    told = room.sql("SELECT document FROM events WHERE kind = 'history upgraded'")
    assert copy.name in told[0][0]
    with pytest.raises(HistoryAwayError, match="run the newer program"), room.open() as history:
        history.jobs()
    # The way back: the copy takes the place of the file, and the older program goes on.
    for ending in ("", "-wal", "-shm"):
        room.file.with_name(room.file.name + ending).unlink(missing_ok=True)
    copy.rename(room.file)
    with room.open() as history:
        history.remember(make.filed("t002", job="1042"))
        assert len(history.jobs()) == 2
        assert history.verify().broken is None


def test_a_file_that_cannot_be_copied_is_not_upgraded(file_room, goal_of, make):
    room = file_room()
    with room.open() as history:
        history.remember(make.filed())
    before = room.dump()
    goal = goal_of(a_column=A_COLUMN)
    for second in range(60):  # every name that the copy could get is taken
        (room.folder / f"history.sqlite.version-{VERSION}-20261120T0900{second:02}Z").touch()
    room.clock.moment = room.clock.moment.replace(minute=0, second=10)
    with pytest.raises(HistoryAwayError, match="there is a file of that name"):
        led_to(room, goal).now() and led_to(room, goal).reading().__enter__()
    assert room.dump() == before


def test_a_shared_history_is_upgraded_only_when_a_person_says_so(server_room, goal_of, make):
    room = server_room()
    with room.open() as history:
        history.remember(make.filed())
    goal = goal_of(a_column=A_COLUMN)
    with pytest.raises(HistoryAwayError, match=r"is of version .*this program writes") as caught:
        room.database(goal=goal).reading().__enter__()
    assert "pg_dump" in caught.value.do
    assert "shift" not in room.columns("verdicts")


def test_what_is_older_is_said_to_whoever_only_looks(begun, goal_of):
    database = begun.database(goal=goal_of(a_column=A_COLUMN), writable=False)
    with pytest.raises(HistoryAwayError, match="the history is of version"):
        database.reading().__enter__()


def test_a_newer_history_is_left_alone(begun):
    begun.sql(f"UPDATE schema_versions SET version = {VERSION + 1}")  # noqa: S608
    before = begun.dump()
    for opened in (begun.open(), begun.look()):
        with pytest.raises(HistoryAwayError, match=f"of version {VERSION + 1}, this program knows"):
            opened.jobs()
    assert begun.dump() == before


def test_a_history_that_never_noted_its_version_is_not_one(begun):
    begun.sql("DELETE FROM schema_versions")
    with pytest.raises(HistoryAwayError, match="not a history"):
        begun.open().jobs()


def test_the_steps_lead_to_this_version_one_by_one():
    config = Config()
    config.set_main_option("script_location", str(CURRENT.scripts))
    steps = [step.revision for step in ScriptDirectory.from_config(config).walk_revisions()]
    assert [int(step) for step in reversed(steps)] == list(range(1, VERSION + 1))
