"""What is called wrong with a room, and when."""

import errno
import os
import shutil
from datetime import UTC, datetime, timedelta

import pytest

from gatekeeper.filing.disk import Disk
from gatekeeper.layout import lay_out
from gatekeeper.screens.alarms import alarms_of, silence
from gatekeeper.screens.present import NOW_FILE, Present, read_present, write_present
from gatekeeper.single import only_one

NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)


@pytest.fixture
def site(tmp_path):
    return lay_out(tmp_path / "site", Disk())[0]


def say(site, **changes):
    write_present(site.state, Present(at=NOW.isoformat(), process=1, program="x", **changes))
    return read_present(site.state)


def written(site, ago_s):
    when = (NOW - timedelta(seconds=ago_s)).timestamp()
    os.utime(site.state / NOW_FILE, (when, when))


def test_no_gate_and_none_ever_is_an_alarm(site):
    assert "no gate is at work here" in silence(site, None, NOW).says


def test_a_gate_at_its_first_round_is_no_alarm(site):
    with only_one(site.state, site.gate):
        assert silence(site, None, NOW) is None


def test_a_gate_that_ended_is_an_alarm_at_once_and_its_last_word_is_named(site):
    present = say(site)
    written(site, 0)
    assert "last word was at 24 Nov 17:00" in silence(site, present, NOW).says


@pytest.mark.parametrize(("ago_s", "is_alarm"), [(0, False), (59, False), (61, True)])
def test_a_gate_that_says_nothing_for_a_while_is_an_alarm(site, ago_s, is_alarm):
    present = say(site)
    written(site, ago_s)
    with only_one(site.state, site.gate):
        alarm = silence(site, present, NOW)
    assert (alarm is not None) == is_alarm
    if alarm:
        assert alarm.says.startswith("NO WORD FROM THE GATE since 24 Nov 17:00")


def test_broken_rules_and_what_the_daemon_met_are_alarms(site):
    present = say(
        site, alarms=("held is away; mount it\x1b[2J",), broken_rules=("workflows/x.yaml:5 no",)
    )
    alarms = [(alarm.says, alarm.do) for alarm in alarms_of(site, present)]
    assert alarms == [
        ("held is away", "mount it?[2J"),
        ("RULES BROKEN: workflows/x.yaml:5 no", "mend that line: until then its jobs wait"),
    ]


def test_rules_that_will_be_broken_are_told_with_what_becomes_of_jobs_until_then(site):
    present = say(site, coming_rules=("customers/x.yaml:5 from 2027-01-15 on: no",))
    (alarm,) = alarms_of(site, present)
    assert alarm.says == "RULES TO MEND IN TIME: customers/x.yaml:5 from 2027-01-15 on: no"
    assert "until then its jobs are judged" in alarm.do


def test_a_filling_disk_is_an_alarm_once_a_disk(site, monkeypatch):
    full = shutil.disk_usage(site.root)._replace(free=300_000_000)
    monkeypatch.setattr("gatekeeper.screens.alarms.shutil.disk_usage", lambda _: full)
    says = [alarm.says for alarm in alarms_of(site, None)]
    assert len(says) == 1
    assert says[0].startswith("THE DISK IS FILLING: 300 MB free")


def test_a_disk_that_takes_no_changes_is_an_alarm(site, monkeypatch):
    monkeypatch.setattr("gatekeeper.screens.alarms.is_read_only", lambda path: path == site.held)
    says = [alarm.says for alarm in alarms_of(site, None)]
    assert says == [f"THE DISK TAKES NO CHANGES: {site.held}"]


def test_a_state_folder_that_is_closed_to_the_asking_is_no_gate_that_ended(site, monkeypatch):
    say(site)
    closed = PermissionError(errno.EACCES, "Permission denied", str(site.state / NOW_FILE))
    monkeypatch.setattr("gatekeeper.screens.alarms.is_at_work", lambda *_: None)
    monkeypatch.setattr("gatekeeper.screens.alarms.error_of", lambda _: closed)
    alarm = silence(site, None, NOW)
    assert alarm.says == f"NO WORD FROM THE GATE: Permission denied: {site.state}"
    assert "give user" in alarm.do
