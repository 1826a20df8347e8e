"""When all of the history's file is looked through at its opening, and when it need not be."""

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import threading
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import Engine, event, select

from gatekeeper.history import HistoryAwayError
from gatekeeper.history.schema import metadata

ROOT = Path(__file__).parents[3]


@pytest.fixture
def make_room(file_room):
    return file_room


@pytest.fixture
def looks():
    """Every look through a whole file while the test runs."""
    found = []

    def keep(_connection, _cursor, statement, *_):
        if "quick_check" in statement:
            found.append(statement)

    event.listen(Engine, "before_cursor_execute", keep)
    yield found
    event.remove(Engine, "before_cursor_execute", keep)


@pytest.fixture
def closed(room, make, looks):
    """A history that was closed in order."""
    with room.open() as history:
        history.remember(make.filed("t001"))
    looks.clear()
    return room


def opened_again(room):
    with room.open() as history:
        assert history.jobs()


def note_of(room):
    return room.file.with_name(f"{room.name}.closed")


def test_a_file_closed_in_order_is_not_looked_through_again(closed, looks):
    for _ in range(3):
        opened_again(closed)
    assert looks == []


def test_jobs_recorded_in_between_change_nothing(closed, looks, make):
    for number in range(2, 4):
        with closed.open() as history:
            history.remember(make.filed(f"t00{number}"))
    assert looks == []


def test_one_who_only_looks_meanwhile_changes_nothing(closed, looks, make):
    reader = closed.look()
    with closed.open() as history:
        history.remember(make.filed("t002"))
        assert len(reader.job("1041")) == 2
    opened_again(closed)
    reader.close()
    opened_again(closed)
    assert looks == []


def test_after_a_kill_all_of_it_is_looked_through(closed, looks):
    code = f"""
import os, signal
from pathlib import Path
from gatekeeper.clock import SystemClock
from gatekeeper.history import open_history
history = open_history("sqlite:///{closed.name}", base=Path({str(closed.folder)!r}), site="north",
                       clock=SystemClock(), program="gatekeeper")
history.jobs()
os.kill(os.getpid(), signal.SIGKILL)
"""
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False)  # noqa: S603
    assert done.returncode == -signal.SIGKILL
    opened_again(closed)
    assert len(looks) == 1


def change_a_byte(room):
    with room.file.open("r+b") as file:
        file.seek(-1, os.SEEK_END)
        byte = file.read(1)
        file.seek(-1, os.SEEK_END)
        file.write(bytes([byte[0] ^ 1]))


def change_and_set_the_clock_of_the_file_back(room):
    before = room.file.stat()
    change_a_byte(room)
    os.utime(room.file, ns=(before.st_atime_ns, before.st_mtime_ns))


def restore_a_copy(room):
    shutil.copy2(room.file, room.folder / "copy")
    (room.folder / "copy").replace(room.file)


def lay_a_log_beside(room):
    room.file.with_name(f"{room.name}-wal").touch()


@pytest.mark.parametrize(
    "happens",
    [
        change_and_set_the_clock_of_the_file_back,
        restore_a_copy,
        lay_a_log_beside,
        lambda room: note_of(room).unlink(),
        lambda room: note_of(room).write_text(""),
        lambda room: note_of(room).write_text("[1]"),
        lambda room: note_of(room).write_text('{"is": 5'),
        lambda room: note_of(room).write_text(note_of(room).read_text().replace("2026", "2O26")),
        lambda room: (note_of(room).unlink(), note_of(room).mkdir()),
        lambda room: (note_of(room).unlink(), note_of(room).symlink_to(room.folder / "elsewhere")),
    ],
)
def test_any_doubt_looks_through_all_of_it(closed, looks, happens):
    happens(closed)
    opened_again(closed)
    assert len(looks) == 1


def test_damage_while_the_service_was_down_is_found_and_set_aside(closed):
    size = closed.file.stat().st_size
    with closed.file.open("r+b") as file:
        file.seek(size // 2)
        file.write(b"\xff" * (size // 2))
    history = closed.open()
    history.jobs()
    assert "damaged" in history.begun
    assert [path for path in closed.folder.iterdir() if "damaged" in path.name]


def test_once_a_week_all_of_it_is_looked_through(closed, looks):
    closed.clock.moment += timedelta(days=6)
    opened_again(closed)
    assert looks == []
    closed.clock.moment += timedelta(days=2)
    opened_again(closed)
    assert len(looks) == 1
    closed.clock.moment += timedelta(days=6)
    opened_again(closed)
    assert len(looks) == 1
    closed.clock.moment -= timedelta(days=9)  # a clock that went back says nothing of the age
    opened_again(closed)
    assert len(looks) == 2


def test_one_that_comes_beside_another_that_lives_need_not_look(closed, looks, make):
    first = closed.open()
    first.remember(make.filed("t002"))
    for _ in range(2):
        opened_again(closed)
    first.close()
    assert looks == []


def test_the_last_to_leave_writes_the_note(closed, looks, make):
    first, second = closed.open(), closed.open()
    first.remember(make.filed("t002"))
    second.remember(make.filed("t003"))
    first.close()
    assert '"is"' not in note_of(closed).read_text()
    second.close()
    opened_again(closed)
    assert looks == []


def test_a_file_put_in_the_place_of_the_open_one_is_not_vouched_for(closed, looks):
    history = closed.open()
    history.jobs()
    restore_a_copy(closed)
    history.close()
    opened_again(closed)
    assert len(looks) == 1


def spoil(room):
    size = room.file.stat().st_size
    with room.file.open("r+b") as file:
        file.seek(size * 3 // 4)
        file.write(b"\xff" * (size // 8))


def read_everything(database):
    with database.reading() as connection:
        connection.exec_driver_sql("PRAGMA cache_size = 1")
        for table in metadata.sorted_tables:
            connection.execute(select(table)).all()


def ended_looks():
    for thread in threading.enumerate():
        if thread.name == "history look":
            thread.join()


def test_a_large_file_is_looked_through_beside_the_work(closed, looks):
    note_of(closed).unlink()
    database = closed.database(large=1)
    with database.reading():
        ended_looks()
    database.close()
    opened_again(closed)
    assert looks == []  # not by a connection that anybody waited for


def test_damage_found_beside_the_work_sets_a_large_file_aside_at_the_next_use(closed, make):
    with closed.open() as history:
        history.remember_many(make.filed(f"t{n:03}", job=f"J{n}") for n in range(2, 60))
    spoil(closed)
    database = closed.database(large=1)
    with contextlib.suppress(HistoryAwayError), database.reading():
        ended_looks()
    with contextlib.suppress(HistoryAwayError), database.reading():
        pass  # refused, where the look has found it and nobody met it
    with database.reading():
        pass
    assert "damaged" in database.begun
    database.close()
    assert [path for path in closed.folder.iterdir() if "damaged" in path.name]


def test_a_look_that_was_ended_vouches_for_nothing(closed, looks):
    note_of(closed).unlink()
    database = closed.database(large=1)
    with database.reading():
        pass
    database._store._beside_work.end()  # noqa: SLF001 -- as a stop of the service does
    database._store._soundness._looked = ""  # noqa: SLF001 -- where it had already come to an end
    database.close()
    opened_again(closed)
    assert len(looks) == 1


def test_damage_that_a_question_meets_is_looked_for_in_a_large_file_too(closed, make):
    with closed.open() as history:
        history.remember_many(make.filed(f"t{n:03}", job=f"J{n}") for n in range(2, 60))
    database = closed.database(large=1)
    with database.reading():
        ended_looks()
    spoil(closed)
    with pytest.raises(HistoryAwayError, match="damaged"):
        read_everything(database)
    with database.reading():
        pass
    assert "damaged" in database.begun
    database.close()
