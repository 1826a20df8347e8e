"""The real service by a clock that a test sets: days of odd length, and a clock that jumps."""

import json
import logging
import threading
import time
from datetime import UTC, datetime, timedelta

import pytest

from gatekeeper.service import Service, Token
from gatekeeper.site import read_site

STEP = timedelta(minutes=15)


class Walls:
    """The clock on the wall, which stands until it is set, and one that never jumps."""

    def __init__(self, moment):
        self.moment = moment
        self.seconds = 0.0

    def now(self):
        return self.moment

    def monotonic(self):
        return time.monotonic() + self.seconds

    def go(self, span=STEP):
        self.moment += span
        self.seconds += span.total_seconds()


class Days:
    """The service at work, from one quarter of an hour to the next."""

    def __init__(self, service, walls):
        self.service, self.walls = service, walls

    def beat(self):
        """Let the service go by the clock as it is, and wait until it has worked."""
        done = threading.Event()
        at_work = self.service.chores.work
        self.service.chores.work = lambda book: (at_work(book), done.set())
        self.service._tokens.put(Token.BEAT)  # noqa: SLF001 -- what the scheduler puts
        assert done.wait(45)
        self.service.chores.work = at_work

    def pass_by(self, hours):
        for _ in range(hours * 4):
            self.walls.go()
            self.beat()


@pytest.fixture
def play(room, wait_for):
    """Run the service of a room in Berlin while a script sets its clock; return what was raised."""

    def run(start, script):
        settings = room.root / "site.yaml"
        before, _, after = settings.read_text().partition("upkeep:\n")
        rest = after.split("\n", 3)[3]
        times = '  digest_at: "02:30"\n  backup_at: "01:00"\n'
        zone = "time_zone: Europe/London", "time_zone: Europe/Berlin"
        assert zone[0] in before
        settings.write_text(f"{before.replace(*zone)}upkeep:\n{times}{rest}")
        walls = Walls(start)
        service = Service(read_site(room.root), walls, walls.monotonic)
        wrong = []

        def at_work():
            try:
                wait_for((room.root / "state/now.json").exists)
                script(Days(service, walls))
            except Exception as error:  # noqa: BLE001 -- of another thread: pytest would not see it
                wrong.append(error)
            finally:
                service.stop()

        thread = threading.Thread(target=at_work)
        thread.start()
        service.run()
        thread.join()
        assert wrong == []

    return run


def files(room, folder, ending):
    return sorted(path.stem for path in (room.root / "state" / folder).glob(f"*{ending}"))


@pytest.mark.parametrize(
    "start",
    [datetime(2026, 10, 24, 12, tzinfo=UTC), datetime(2027, 3, 27, 12, tzinfo=UTC)],
    ids=["25 hours", "23 hours"],
)
def test_a_day_of_odd_length_has_its_work_done_once(room, play, caplog, start):
    with caplog.at_level(logging.INFO, "gatekeeper.upkeep"):
        play(start, lambda days: days.pass_by(48))
    assert caplog.messages.count("digest done") == 2
    assert caplog.messages.count("backup done") == 2
    assert len(files(room, "digests", ".txt")) == 2
    assert len(files(room, "backups", ".sqlite")) == 2


def test_a_clock_that_jumps_a_year_and_back_loses_no_days_work(room, sheet, play, wait_for):
    def script(days):
        days.pass_by(2)
        days.walls.moment += timedelta(days=365)
        room.drop("1.csv", sheet(job="1"))
        wait_for(lambda: "the clock was set forward by 365 d" in room.alarms())
        wait_for(room.jobs_on_disk)
        days.walls.moment -= timedelta(days=365)
        wait_for(lambda: not room.present()["alarms"])
        days.pass_by(24)

    play(datetime(2026, 12, 1, 12, tzinfo=UTC), script)
    assert files(room, "digests", ".txt") == ["2026-12-02"]
    assert files(room, "backups", ".sqlite") == ["history-2026-12-02"]
    assert room.decision("1") == "approved"
    told = json.loads(room.call("doctor", "--json", "--site", str(room.root), expect=None).stdout)
    assert "the clock stands before the newest entry" in str(told)
