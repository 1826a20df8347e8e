import os
import resource
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import text

from gatekeeper.errors import RoomError
from gatekeeper.history import HistoryAwayError, NoHistoryYetError, Wait, open_history, sqlite
from gatekeeper.history.schema import VERSION
from gatekeeper.history.sqlite_store import SqliteStore


@pytest.fixture
def make_room(file_room):
    return file_room


def aside(room):
    return sorted(path for path in room.folder.iterdir() if "damaged" in path.name)


def first_event(history):
    return history.events(limit=1)[0]


def test_every_connection_has_the_settings_that_keep_a_commit(room, make):
    room.open().remember(make.filed())
    database = room.database()
    with database.reading() as one, database.reading() as other:
        for connection in (one, other):
            assert connection.execute(text("PRAGMA journal_mode")).scalar() == "wal"
            assert connection.execute(text("PRAGMA synchronous")).scalar() == 2
            assert connection.execute(text("PRAGMA foreign_keys")).scalar() == 1
            assert connection.execute(text("PRAGMA busy_timeout")).scalar() == 20


def test_a_setting_that_does_not_take_is_refused(room, make, monkeypatch):
    # SQLite takes what it does not know for OFF, without a word.
    monkeypatch.setitem(sqlite.SETTINGS["rw"], "synchronous", 7)
    with pytest.raises(HistoryAwayError, match="synchronous is 0 instead of 7"):
        room.open().remember(make.filed())


def test_rows_that_belong_to_nothing_are_refused(room, make):
    room.open().remember(make.filed())
    with pytest.raises(HistoryAwayError, match="FOREIGN KEY"), room.database().writing() as one:
        one.execute(text("UPDATE judged SET sheet_id = 99"))


def test_a_new_history_says_that_none_was_there(room, make):
    history = room.open()
    assert history.begun == ""
    history.remember(make.filed())
    assert history.begun == "no history was there"
    assert first_event(history).kind == "history begun"
    assert "no history was there" in first_event(history).document
    for says in ("the history was begun anew, and filling it was interrupted", ""):
        again = room.open()
        assert len(again.jobs()) == 1
        assert again.begun == says
        again.is_filled()
        assert again.begun == ""


@pytest.mark.parametrize("also", [(), ("-wal", "-shm")])
def test_a_file_deleted_under_us_is_noticed_and_a_new_history_begun(room, make, also):
    history = room.open()
    history.remember(make.filed("t001"))
    room.file.unlink()
    for ending in also:
        Path(f"{room.file}{ending}").unlink()
    with pytest.raises(HistoryAwayError, match="deleted or replaced while it was in use"):
        history.remember(make.filed("t002"))
    history.remember(make.filed("t002"))
    assert "deleted while it was in use" in history.begun
    assert "deleted while it was in use" in first_event(history).document
    assert [line.ticket for line in history.jobs()] == ["t002"]


def test_another_folder_in_the_place_of_the_historys_gets_no_new_history(room, make):
    history = room.open()
    history.remember(make.filed("t001"))
    folder, away = room.file.parent, room.file.parent.with_name("away")
    folder.rename(away)
    folder.mkdir()  # a mount point without its disk
    for _ in range(2):
        with pytest.raises(HistoryAwayError):
            history.remember(make.filed("t002"))
    assert list(folder.iterdir()) == []
    folder.rmdir()
    away.rename(folder)
    history.remember(make.filed("t002"))
    assert {line.ticket for line in history.jobs()} == {"t002"}  # the newest of one job
    assert history.has_ticket("t001")


def test_a_file_deleted_during_the_commit_is_noticed_after_it(room, make):
    room.open().remember(make.filed("t001"))
    with pytest.raises(HistoryAwayError, match="deleted or replaced"), room.database().writing():
        room.file.unlink()


def test_a_file_replaced_under_us_is_noticed(room, make):
    history = room.open()
    history.remember(make.filed("t001"))
    other = room.folder / "other"
    other.write_bytes(room.file.read_bytes())
    other.rename(room.file)
    with pytest.raises(HistoryAwayError, match="deleted or replaced"):
        history.has_ticket("t001")


def test_a_lock_is_waited_for_and_then_the_gate_goes_on_without(room, make):
    history = room.open(wait=Wait(lock_s=0.05, pause_s=30))
    history.remember(make.filed("t001"))
    with closing(sqlite3.connect(room.file, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(RoomError, match="another program holds the history locked"):
            history.remember(make.filed("t002"))
        other.execute("ROLLBACK")
    assert history.has_ticket("t001")
    history.remember(make.filed("t002"))
    assert history.verify().broken is None


def test_a_lock_that_was_met_a_moment_ago_is_not_waited_for_again(room, make):
    history = room.open(wait=Wait(lock_s=0.05, pause_s=30))
    history.remember(make.filed("t001"))
    with closing(sqlite3.connect(room.file, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert patience_of(history) == 50
        with pytest.raises(HistoryAwayError, match="locked"):
            history.remember(make.filed("t002"))
        assert patience_of(history) == 0
        room.clock.seconds = 31
        assert patience_of(history) == 50  # it may be another lock by now
        with pytest.raises(HistoryAwayError, match="locked"):
            history.remember(make.filed("t002"))
        other.execute("ROLLBACK")
    history.remember(make.filed("t002"))  # at once: nothing was let go of
    assert patience_of(history) == 50


def patience_of(history):
    """Return how long the next transaction waits for a lock (ms)."""
    with history._database.reading() as connection:  # noqa: SLF001 -- what it waits shows nowhere else
        return connection.exec_driver_sql("PRAGMA busy_timeout").scalar_one()


def test_a_lock_at_the_start_is_waited_for_only_once_in_a_while(room, make):
    room.open().remember(make.filed("t001"))
    room.close()
    history = room.open(wait=Wait(lock_s=0.05, pause_s=30))
    with closing(sqlite3.connect(room.file, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(HistoryAwayError, match="locked"):
            history.remember(make.filed("t002"))
        other.execute("ROLLBACK")
    with pytest.raises(HistoryAwayError, match="locked"):
        history.remember(make.filed("t002"))  # it would work, but it is left alone for a while
    room.clock.seconds = 31
    history.remember(make.filed("t002"))
    assert history.has_ticket("t002")
    assert aside(room) == []


def test_a_lock_that_keeps_out_readers_is_no_damage(room, make):
    room.open().remember(make.filed("t001"))
    room.close()
    history = room.open()
    with closing(sqlite3.connect(room.file, isolation_level=None)) as other:
        other.execute("PRAGMA locking_mode = EXCLUSIVE")
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(HistoryAwayError, match="locked"):
            history.jobs()
    assert aside(room) == []
    assert history.has_ticket("t001")


def corrupt_header(file):
    file.write_bytes(b"not a database at all " * 400)


def cut_in_half(file):
    os.truncate(file, file.stat().st_size // 2 // 4096 * 4096)


def overwrite_pages(file):
    with file.open("r+b") as stream:
        stream.seek(8 * 4096)
        stream.write(b"\xff" * (file.stat().st_size - 8 * 4096))


def spoil_last_page(file):
    """Leave everything that a start reads as it is; only looking at all of it shows the damage."""
    with file.open("r+b") as stream:
        stream.seek(-4096, os.SEEK_END)
        stream.write(b"\xff" * 4096)


@pytest.mark.parametrize("damage", [corrupt_header, cut_in_half, overwrite_pages, spoil_last_page])
def test_a_damaged_history_is_set_aside_whole_and_a_new_one_begun(room, make, damage):
    room.open().remember(make.filed("t001"))
    room.close()
    damage(room.file)
    damaged = room.file.read_bytes()
    history = room.open()
    history.remember(make.filed("t002"))
    (folder,) = aside(room)
    assert folder.name.startswith("history.sqlite.damaged-20261120T0900")
    assert (folder / "history.sqlite").read_bytes() == damaged
    assert "the history was damaged" in history.begun
    assert folder.name in history.begun
    assert folder.name in first_event(history).document
    assert [line.ticket for line in history.jobs()] == ["t002"]


def test_what_is_set_aside_overwrites_nothing(room, make):
    for ticket in ("t001", "t002"):
        room.clock.moment = room.clock.moment.replace(second=0, minute=30)
        history = room.open()
        history.remember(make.filed(ticket))
        history.close()
        corrupt_header(room.file)
    room.clock.moment = room.clock.moment.replace(second=0, minute=30)
    room.open().remember(make.filed("t003"))
    names = [path.name for path in aside(room)]
    assert len(names) == 2
    assert names[1] == f"{names[0]}-2"


def test_damage_met_while_in_use_is_mended_at_the_next_opening(room, make):
    history = room.open()
    history.remember_many(make.filed(f"t{number:03}") for number in range(40))
    history.close()
    assert history.head().sequence == 41
    corrupt_header(room.file)
    with pytest.raises(HistoryAwayError, match="damaged"):
        history.job("1041")
    history.remember(make.filed("t050"))
    assert "damaged" in history.begun
    assert len(aside(room)) == 1


def test_a_new_history_waits_for_those_who_still_read_the_old_one(room, make):
    room.open().remember(make.filed())
    database = room.database()
    with database.reading():
        room.file.unlink()
        with pytest.raises(HistoryAwayError, match="deleted or replaced"), database.reading():
            pass
        with pytest.raises(HistoryAwayError, match="still being read"), database.reading():
            pass
        assert not room.file.exists()
    with database.reading():
        assert room.file.exists()


def test_a_log_left_behind_without_its_file_is_set_aside_too(room, make):
    (room.folder / "history.sqlite-wal").write_bytes(b"half a million jobs")
    history = room.open()
    history.remember(make.filed())
    (folder,) = aside(room)
    assert (folder / "history.sqlite-wal").read_bytes() == b"half a million jobs"
    assert "its log was" in history.begun


def test_an_empty_file_begins_anew_and_says_so(room, make):
    room.file.touch()
    history = room.open()
    history.remember(make.filed())
    assert history.begun == "the history's file was empty"


def test_the_forged_end_of_a_chain_is_found_at_the_start(room, make):
    room.open().remember(make.filed("t001"))
    room.close()
    room.forge("UPDATE events SET subject = 'x' WHERE sequence = 2")
    history = room.open()
    assert history.jobs() == ()
    assert "the end of the audit chain does not hold" in history.begun
    assert len(aside(room)) == 1


def test_a_newer_history_is_left_alone(room, make):
    room.open().remember(make.filed())
    room.close()
    room.sql("INSERT INTO schema_versions VALUES (?, 'x', '2027-01-01', 'y')", VERSION + 1)
    before = room.file.read_bytes()
    for ask in (room.open().jobs, room.look().jobs, lambda: room.open().remember(make.filed())):
        with pytest.raises(HistoryAwayError, match=f"is of version {VERSION + 1}") as caught:
            ask()
        assert str(room.file) in str(caught.value)
    assert room.file.read_bytes() == before
    assert aside(room) == []


def test_a_database_of_something_else_is_left_alone(room, make):
    room.sql("CREATE TABLE recipes (name TEXT)")
    before = room.file.read_bytes()
    with pytest.raises(HistoryAwayError, match="tables that are not a history"):
        room.open().remember(make.filed())
    assert room.file.read_bytes() == before
    assert aside(room) == []


def test_no_history_is_begun_on_a_network_share(room, tmp_path):
    table = tmp_path / "mounts"
    table.write_text(f"/dev/vda1 / ext4 rw 0 0\npc:/room {room.folder} nfs4 rw 0 0\n")
    database = room.database(mounts=table)
    with pytest.raises(HistoryAwayError, match=r"network share \(nfs4\)"), database.writing():
        pass
    assert not room.file.exists()


def test_a_missing_folder_is_not_made(room, make):
    room.folder = room.folder / "gone"
    with pytest.raises(HistoryAwayError, match="folder is not there"):
        room.open().remember(make.filed())
    assert not room.folder.exists()


@pytest.mark.parametrize("put", [lambda path: path.mkdir(), os.mkfifo])
def test_what_is_no_plain_file_is_left_alone(room, make, put):
    put(room.file)
    with pytest.raises(HistoryAwayError, match="no plain file"):
        room.open().remember(make.filed())


def test_looking_begins_and_changes_nothing(room, make):
    with pytest.raises(NoHistoryYetError, match="no history has been begun"):
        room.look().jobs()
    assert list(room.folder.iterdir()) == []
    room.open().remember(make.filed())
    looking = room.look()
    assert [line.ticket for line in looking.jobs()] == ["t001"]
    reader = room.database(writable=False)
    with pytest.raises(HistoryAwayError, match="cannot be written"), reader.writing() as one:
        one.execute(text("UPDATE verdicts SET was = 'held'"))


def test_who_looks_sees_what_was_just_recorded(room, make):
    history, looking = room.open(), room.look()
    for number in range(3):
        history.remember(make.filed(f"t{number}"))
        assert looking.has_ticket(f"t{number}")


@pytest.mark.parametrize(
    ("url", "says"),
    [
        ("sqlite://", "cannot be kept in"),
        ("sqlite:///", "cannot be kept in"),
        ("sqlite:///:memory:", "cannot be kept in"),
        ("mysql://room:secret@pc/history", "cannot be kept in"),
        ("somewhere with secret", "is not one"),
    ],
)
def test_an_address_that_cannot_be_kept_is_refused_without_its_password(tmp_path, clock, url, says):
    with pytest.raises(HistoryAwayError, match=says) as caught:
        open_history(url, base=tmp_path, site="north", clock=clock, program="p")
    assert "secret" not in str(caught.value)


def test_a_relative_address_counts_from_the_site_whatever_its_name(tmp_path, clock, make):
    base = tmp_path / "plate room #1? 100%41 ä"
    (base / "state").mkdir(parents=True)
    url = "sqlite:///state/history.sqlite"
    with open_history(url, base=base, site="north", clock=clock, program="p") as history:
        history.remember(make.filed())
        history.is_filled()
    names = sorted(path.name for path in (base / "state").iterdir())
    assert names == ["history.sqlite", "history.sqlite.closed"]


def test_a_backup_is_equal_and_opens_as_a_history(room, make, clock):
    history = room.open()
    history.remember_many(make.filed(f"t{number:03}") for number in range(40))
    target = room.folder / "backups" / "20261120.sqlite"
    target.parent.mkdir()
    history.backup(target)
    assert [path.name for path in target.parent.iterdir()] == [target.name]
    assert target.read_bytes()[18:20] == b"\x01\x01"  # needs no log: SQLite file format, 1.3.3
    assert room.dump(target) == room.dump()
    with open_history(
        f"sqlite:///{target}", base=room.folder, site="north", clock=clock, program="p"
    ) as copy:
        assert copy.verify() == history.verify()
        assert copy.job("1041") == history.job("1041")


def test_a_backup_overwrites_nothing(room, make):
    history = room.open()
    history.remember(make.filed())
    target = room.folder / "kept"
    target.write_text("precious")
    with pytest.raises(HistoryAwayError, match="there is a file of that name"):
        history.backup(target)
    assert target.read_text() == "precious"


def test_a_backup_that_cannot_be_written_leaves_nothing(room, make):
    history = room.open()
    history.remember(make.filed())
    with pytest.raises(HistoryAwayError, match="was not copied: No such file"):
        history.backup(room.folder / "none" / "copy.sqlite")
    history.remember(make.filed("t002"))
    assert not (room.folder / "none").exists()


def test_a_backup_on_a_full_disk_leaves_nothing(room, make):
    history = room.open()
    history.remember_many(make.filed(f"t{number:03}") for number in range(40))
    target = room.folder / "copies"
    target.mkdir()
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (16 * 4096, before[1]))
    try:
        with pytest.raises(HistoryAwayError, match="was not copied"):
            history.backup(target / "copy.sqlite")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert list(target.iterdir()) == []
    history.remember(make.filed("t050"))


def test_a_full_disk_is_said_and_survived(room, make):
    history = room.open(wait=Wait(lock_s=0.02, pause_s=30))
    history.remember(make.filed("t001"))
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (room.file.stat().st_size + 4096, before[1]))
    try:
        with pytest.raises(HistoryAwayError) as caught:
            history.remember_many(make.filed(f"t1{number:02}") for number in range(60))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert "disk" in caught.value.what
    room.clock.seconds = 31
    history.remember(make.filed("t050"))
    assert [line.ticket for line in history.jobs()] == ["t050"]
    assert len(history.job("1041")) == 2
    assert history.verify().broken is None


@pytest.mark.parametrize(
    ("code", "says", "is_passing"),
    [
        (sqlite3.SQLITE_BUSY_SNAPSHOT, "another program holds the history locked", True),
        (sqlite3.SQLITE_FULL, "the disk of the history is full", True),
        (sqlite3.SQLITE_IOERR_FSYNC, "the disk of the history reports an error", False),
        (sqlite3.SQLITE_READONLY_DBMOVED, "the history cannot be written", False),
        (sqlite3.SQLITE_CANTOPEN, "the history cannot be opened", False),
        (sqlite3.SQLITE_CORRUPT, "the history is damaged", False),
        (sqlite3.SQLITE_INTERNAL, "the history cannot be used: x", False),
    ],
)
def test_each_error_of_sqlite_is_said_in_words(room, code, says, is_passing):
    error = sqlite3.OperationalError("x")
    error.sqlite_errorcode = code
    store = SqliteStore(room.file, lock_s=0, writable=True)
    assert store.explain(error).what == says
    assert store.is_passing(error) is is_passing


def test_an_error_of_the_system_is_said_in_words(room, make):
    room.name = "x" * 250
    room.url = f"sqlite:///{room.name}"
    corrupt_header_of = room.folder / room.name
    corrupt_header_of.write_bytes(b"not a database")
    with pytest.raises(HistoryAwayError, match="cannot be reached: File name too long"):
        room.open().remember(make.filed())


def test_a_transaction_that_was_cut_off_is_taken_back_before_looking(room):
    # What a kill leaves while the first page is written: found by killing, kept here as bytes.
    with closing(sqlite3.connect(room.file, isolation_level=None)) as connection:
        connection.execute("CREATE TABLE cut (off)")
        connection.execute("PRAGMA cache_size = 1")
        connection.execute("PRAGMA cache_spill = 1")
        connection.execute("BEGIN")
        connection.executemany("INSERT INTO cut VALUES (?)", [("x" * 4000,)] * 50)
        journal = Path(f"{room.file}-journal").read_bytes()
        content = room.file.read_bytes()
    room.file.write_bytes(content)
    Path(f"{room.file}-journal").write_bytes(journal)
    with pytest.raises(HistoryAwayError, match="not a history"):
        room.open().jobs()  # it got as far as seeing what the file is
    assert room.sql("SELECT count(*) FROM cut") == [(0,)]
    assert aside(room) == []


def test_an_empty_file_with_a_journal_is_a_beginning_that_was_cut_off(room, make):
    room.file.touch()
    Path(f"{room.file}-journal").write_bytes(b"\xd9\xd5\x05\xf9 \xa1c\xd7 and no more")
    history = room.open()
    history.remember(make.filed())
    assert history.begun == "the history's file was empty"
    assert aside(room) == []


def test_who_looks_sees_what_a_killed_program_had_committed(room, make):
    writer = room.open()
    writer.remember(make.filed("t001"))
    files = {path.name: path.read_bytes() for path in room.folder.iterdir()}
    room.close()  # which empties the log into the file; a kill does not
    for name, content in files.items():
        if not name.endswith("-shm"):
            (room.folder / name).write_bytes(content)
    assert Path(f"{room.file}-wal").stat().st_size > 0
    assert room.look().has_ticket("t001")


def test_history_that_another_program_begins_in_this_moment_is_shared(room, make, monkeypatch):
    looks = []
    size = SqliteStore._size  # noqa: SLF001 -- to come between two of its looks

    def begun_after_the_first_look(store):
        found = size(store)
        looks.append(found)
        if len(looks) == 1:
            other = room.open()
            other.remember(make.filed("t001"))
            others.append(other)  # still open, so that its log stays
        return found

    others = []
    history = room.open()
    monkeypatch.setattr(SqliteStore, "_size", begun_after_the_first_look)
    history.remember(make.filed("t002", job="J2"))
    assert looks[0] is None
    assert aside(room) == []
    assert {line.ticket for line in history.jobs(limit=None)} == {"t001", "t002"}
