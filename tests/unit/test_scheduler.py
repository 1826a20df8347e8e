"""The timetable in APScheduler, as an edit of site.yaml leaves it; nothing waits for a run."""

from __future__ import annotations

from datetime import time
from zoneinfo import ZoneInfo

import pytest

from gatekeeper.upkeep.scheduler import Upkeep

ZONE = ZoneInfo("Europe/London")


@pytest.fixture
def upkeep():
    made = Upkeep(
        ZONE,
        rescan_s=3000,
        rescan=lambda: None,
        beat=lambda: None,
        times=[time(7, 0), time(22, 30)],
    )
    made.start()
    yield made
    made.stop()


def clock_times(upkeep):
    return sorted(name for name in upkeep.next_runs() if name.startswith("chores"))


def test_times_that_are_new_are_run_and_those_struck_out_are_not(upkeep):
    before = upkeep.next_runs()
    upkeep.follow([time(6, 15), time(22, 30), time(22, 30)], 3000)
    after = upkeep.next_runs()
    assert clock_times(upkeep) == ["chores 06:15", "chores 22:30"]
    assert after["chores 22:30"] == before["chores 22:30"]
    assert (after["chores 06:15"].hour, after["chores 06:15"].minute) == (6, 15)
    assert str(after["chores 06:15"].tzinfo) == str(ZONE)
    assert after["rescan"] == before["rescan"]


def test_another_pause_between_scans_counts_from_now(upkeep):
    before = upkeep.next_runs()["rescan"]
    upkeep.follow([time(7, 0), time(22, 30)], 60)
    assert (before - upkeep.next_runs()["rescan"]).total_seconds() > 2900
    assert clock_times(upkeep) == ["chores 07:00", "chores 22:30"]
