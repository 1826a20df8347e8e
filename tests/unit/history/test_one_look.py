"""Several questions of one thread in one look: one moment, one connection, and its end."""

from threading import Thread

import pytest
from sqlalchemy import text

from gatekeeper.history import HistoryAwayError


def connections(floor, times=3):
    """Return how many different connections so many questions were given."""
    seen = []
    for _ in range(times):
        with floor.reading() as connection:
            seen.append(connection)
    return len({id(connection) for connection in seen})


def test_questions_in_a_look_share_a_connection_and_those_after_it_do_not(room):
    floor = room.database()
    with floor.one_look():
        assert connections(floor) == 1
    with floor.reading() as first, floor.reading() as second:
        assert first is not second


def test_what_is_told_meanwhile_is_seen_after_the_look(room, make):
    history = room.open()
    with history.one_look():
        assert history.known_digest(make.sheet().sha256, other_than_job="2") is None
        room.open().remember(make.filed())
        assert history.known_digest(make.sheet().sha256, other_than_job="2") is None
    assert history.known_digest(make.sheet().sha256, other_than_job="2").job == "1041"


def test_another_thread_s_questions_are_not_in_the_look(room, make):
    history = room.open()
    seen = []
    with history.one_look():
        assert history.jobs() == ()
        room.open().remember(make.filed())
        asking = Thread(target=lambda: seen.append(history.jobs()))
        asking.start()
        asking.join()
        assert history.jobs() == ()
    assert [line.job for line in seen[0]] == ["1041"]


def test_question_that_fails_says_why_and_the_next_one_tries_anew(room):
    floor = room.database()
    with floor.one_look():
        with pytest.raises(HistoryAwayError), floor.reading() as connection:
            connection.execute(text("SELECT nothing FROM nowhere"))
        with floor.reading() as connection:
            assert connection.scalar(text("SELECT 1")) == 1
        assert connections(floor) == 1


def test_look_whose_end_fails_has_answered_all_the_same(room):
    floor = room.database()
    with floor.one_look():
        with floor.reading() as connection:
            answer = connection.scalar(text("SELECT 1"))
        connection.connection.driver_connection.close()
    assert answer == 1
    with floor.reading() as connection:
        assert connection.scalar(text("SELECT 1")) == 1


def test_look_without_a_question_opens_nothing(room):
    floor = room.database()
    with floor.one_look():
        pass
    assert floor._engine is None  # noqa: SLF001 -- nobody else could tell


def test_error_of_the_asker_ends_the_look_and_stays_his(room):
    floor = room.database()
    with floor.one_look():
        with pytest.raises(KeyError), floor.reading():
            raise KeyError
        assert connections(floor) == 1
