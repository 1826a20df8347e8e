"""The metrics file, read back by the client's own parser."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from prometheus_client.parser import text_string_to_metric_families

from gatekeeper.history import HistoryAwayError
from gatekeeper.history.past import Counts, Lately, WorkflowCount
from gatekeeper.room import read_book
from gatekeeper.rounds.outlook import Waiting
from gatekeeper.screens.present import Present
from gatekeeper.site import read_site
from gatekeeper.upkeep.metrics import EVERY_S, FILE, FOLDER, Metrics

CONFIG = Path(__file__).parents[2] / "config"
NOON = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
NOTHING = Present("2026-11-24T12:00:00+00:00", 1, "gatekeeper 0")


class ScriptedClock:
    seconds = 0.0

    def now(self):
        return NOON + timedelta(seconds=self.seconds)

    def monotonic(self):
        return self.seconds


class History:
    """Tells what the test says, or is away."""

    away = False
    given = Lately({}, {}, None, None)

    def counts(self):
        if self.away:
            raise HistoryAwayError("locked")
        return Counts((WorkflowCount("liquid-plate", 12, 3),))

    def lately(self, *, since):
        assert since == NOON - timedelta(days=1) + timedelta(seconds=self.clock.seconds)
        return self.given


class Room:
    def __init__(self, root):
        (root / "state").mkdir()
        self.site = replace(read_site(CONFIG), root=root)
        self.book = read_book(read_site(CONFIG))
        self.clock, self.history = ScriptedClock(), History()
        self.history.clock = self.clock
        self.metrics = Metrics(self.site, self.clock, self.history)
        self.file = root / "state" / FOLDER / FILE

    def write(self, present=NOTHING):
        self.metrics.follow(self.book, present)
        return self.read()

    def read(self):
        """Return every sample: its name and its labels' values, by label, → its value."""
        families = text_string_to_metric_families(self.file.read_text())
        return {
            (sample.name, *(value for _, value in sorted(sample.labels.items()))): sample.value
            for family in families
            for sample in family.samples
        }


@pytest.fixture
def room(tmp_path):
    return Room(tmp_path)


def test_jobs_are_told_by_workflow_outcome_and_reason(room):
    given = {("liquid-plate", "approved"): 1, ("liquid-plate", "held"): 2}
    held_by = {"solid_density.min": 2, "film.stocks": 1}
    room.history.given = Lately(given, held_by, None, None)
    found = room.write()
    assert found["gatekeeper_jobs", "approved", "liquid-plate"] == 12
    assert found["gatekeeper_jobs", "held", "liquid-plate"] == 3
    assert found["gatekeeper_verdicts_last_day", "held", "liquid-plate"] == 2
    assert found["gatekeeper_holds_last_day", "solid_density.min"] == 2
    assert found["gatekeeper_holds_last_day", "film.stocks"] == 1
    assert ("gatekeeper_verdict_latency_seconds", "1") not in found


def test_latency_is_the_median_and_the_longest_of_the_day(room):
    room.history.given = Lately({}, {}, 3.0, 20.0)
    found = room.write()
    assert found["gatekeeper_verdict_latency_seconds", "0.5"] == 3.0
    assert found["gatekeeper_verdict_latency_seconds", "1"] == 20.0


def test_the_oldest_that_waits_is_told_from_when_it_was_first_seen(room):
    first = Waiting("liquid-plate", "a.csv", "waits for its rules")
    second = Waiting("stencil", "b.csv", "still arriving")
    room.write(replace(NOTHING, waiting=(first,)))
    room.clock.seconds = EVERY_S
    found = room.write(replace(NOTHING, waiting=(first, second)))
    assert found["gatekeeper_waiting", "liquid-plate"] == 1
    assert found["gatekeeper_waiting_oldest_seconds",] == EVERY_S
    room.clock.seconds = 2 * EVERY_S
    found = room.write(replace(NOTHING, waiting=(second,)))
    assert found["gatekeeper_waiting_oldest_seconds",] == EVERY_S, "it came a minute later"
    room.clock.seconds = 3 * EVERY_S
    assert room.write()["gatekeeper_waiting_oldest_seconds",] == 0


def test_due_dates_are_told_in_days_below_zero_when_past(room):
    found = room.write()
    assert found["gatekeeper_due_days", "meter T-04"] == 281  # 2026-11-24 to 2027-09-01
    assert found["gatekeeper_due_days", "meter T-02"] == -96  # since 2026-08-20


def test_health_of_the_daemon_is_told(room):
    present = replace(NOTHING, alarms=("a", "b"), broken_rules=("c",), news=("d",))
    found = room.write(present)
    assert found["gatekeeper_alarms",] == 2
    assert found["gatekeeper_broken_rules",] == 1
    assert found["gatekeeper_drifts",] == 1
    assert found["gatekeeper_start_time_seconds",] == NOON.timestamp()
    assert found["gatekeeper_last_round_time_seconds",] == NOON.timestamp()
    assert found["gatekeeper_history_available",] == 1


def test_while_the_history_is_away_the_rest_is_told(room):
    room.history.away = True
    found = room.write()
    assert found["gatekeeper_history_available",] == 0
    assert ("gatekeeper_jobs", "approved", "liquid-plate") not in found
    assert ("gatekeeper_due_days", "meter T-04") in found


def test_the_file_is_written_no_more_than_once_a_minute(room):
    room.write()
    room.file.unlink()
    room.clock.seconds = EVERY_S - 1
    room.metrics.follow(room.book, NOTHING)
    assert not room.file.exists()
    room.clock.seconds = EVERY_S
    room.metrics.follow(room.book, NOTHING)
    assert room.file.exists()


def test_a_folder_that_cannot_be_written_is_said_once_and_raises_nothing(room, caplog):
    (room.file.parents[1] / FOLDER).write_text("in the way")
    for seconds in (0.0, EVERY_S, 2 * EVERY_S):
        room.clock.seconds = seconds
        room.metrics.follow(room.book, NOTHING)
    assert caplog.text.count("the metrics cannot be written") == 1


@pytest.mark.parametrize("name", ['a"b', "a\nb", "a\\b", "undecodable \udcff", "ü"])
def test_names_from_outside_cannot_break_the_file(room, name):
    found = room.write(replace(NOTHING, waiting=(Waiting(name, "x.csv", "waits"),)))
    waiting = [key[1] for key in found if key[0] == "gatekeeper_waiting"]
    assert len(waiting) == 1
    assert waiting[0] == name.encode("utf-8", "backslashreplace").decode()


def test_nothing_but_whole_files_lies_in_the_folder(room):
    room.write()
    assert [path.name for path in room.file.parent.iterdir()] == [FILE]
    assert "_created" not in room.file.read_text()
