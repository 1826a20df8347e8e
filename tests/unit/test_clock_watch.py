"""A clock that was set is found by one that never steps; small steps are a time server's."""

from datetime import UTC, datetime, timedelta

import pytest

from gatekeeper.upkeep.clock_watch import BELIEVED_S, DOUBTED_S, NOTED_S, ClockWatch


class Times:
    """Two clocks of one machine, and what the audit trail was told."""

    def __init__(self):
        self.wall = datetime(2096, 11, 20, 12, 0, tzinfo=UTC)  # after this program was installed
        self.steady_s = 50.0
        self.told = []
        self.watch = ClockWatch(lambda: self.wall, lambda: self.steady_s, self.told.append)

    def go(self, seconds):
        """Let time pass."""
        self.wall += timedelta(seconds=seconds)
        self.steady_s += seconds
        return self.watch.look()

    def set(self, **step):
        """Let somebody set the clock."""
        self.wall += timedelta(**step)
        return self.watch.look()


@pytest.fixture
def times():
    return Times()


def test_a_clock_that_goes_right_is_no_news_however_long_nobody_looked(times):
    assert times.go(1) == ()
    assert times.go(9 * 86_400) == ()  # the machine slept: the steady clock went on
    assert not times.watch.is_doubtful
    assert times.told == []


def test_a_time_servers_work_is_no_news(times):
    for _ in range(40):
        assert times.set(seconds=NOTED_S - 1) == ()
        assert times.set(seconds=1 - NOTED_S) == ()
    assert times.told == []


def test_a_clock_that_drifts_is_followed(times):
    for _ in range(100):
        assert times.set(seconds=NOTED_S / 2) == ()
    assert not times.watch.is_doubtful


@pytest.mark.parametrize(
    ("step", "says"),
    [
        ({"days": 400, "hours": 3}, "the clock was set forward by 400 d 3 h: "),
        ({"hours": -2, "minutes": -5}, "the clock was set back by 2 h 5 min: "),
        ({"minutes": 12}, "the clock was set forward by 12 min: "),
    ],
)
def test_a_step_is_said_and_believed_when_it_has_stood_for_an_hour(times, step, says):
    (told,) = times.set(**step)
    assert told.startswith(says)
    assert times.watch.is_doubtful
    assert times.go(BELIEVED_S - 1) == (told,)
    times.go(1)
    assert times.go(1) == ()
    assert not times.watch.is_doubtful


def test_a_clock_that_jumps_there_and_back_is_never_believed(times):
    times.set(days=365)
    times.go(BELIEVED_S / 2)
    assert times.set(days=-365) == ()
    assert not times.watch.is_doubtful
    for _ in range(9):  # nor one that goes on jumping
        times.set(days=30)
        times.go(BELIEVED_S / 2)
        assert times.watch.is_doubtful


def test_a_step_back_goes_into_the_audit_trail_and_one_forward_does_not(times):
    times.set(seconds=DOUBTED_S * 3)
    assert times.told == []
    times.set(seconds=-DOUBTED_S * 3)
    assert times.told == [{"from": "2096-11-20T12:30:00+00:00", "to": "2096-11-20T12:00:00+00:00"}]


def test_an_upgrade_that_takes_the_program_away_for_a_moment_ends_no_look(times, monkeypatch):
    monkeypatch.setattr("gatekeeper.__file__", "/nowhere/gatekeeper/__init__.py")
    assert times.go(1) == ()


def test_a_clock_before_the_program_is_plainly_wrong():
    told = ClockWatch(
        lambda: datetime(1970, 1, 1, 0, 3, tzinfo=UTC), lambda: 180.0, lambda _: None
    ).look()
    assert len(told) == 1
    assert told[0].startswith("the clock stands before this program was installed; set the clock")
