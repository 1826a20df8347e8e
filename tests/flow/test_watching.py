"""Following a site for a screen: cheap while nothing is written, and never ended by trouble."""

import errno

from gatekeeper.clock import SystemClock
from gatekeeper.screens.glance import Glance
from gatekeeper.screens.present import Present, write_present
from gatekeeper.screens.watching import BOOK_S, LOOK_S, Watching
from gatekeeper.site import read_site


class SteppedClock(SystemClock):
    """Stands still until a test moves it."""

    def __init__(self):
        self.at = 1000.0

    def monotonic(self):
        return self.at


def watched(room):
    clock = SteppedClock()
    return Watching(read_site(room.root), clock), clock


def say(room, **changes):
    present = Present(at="2026-11-24T17:00:00+00:00", process=1, program="x", **changes)
    write_present(room.root / "state", present)


def test_the_site_is_looked_at_again_only_when_something_was_written(room):
    watching, clock = watched(room)
    say(room)
    first = watching.facts()
    assert watching.facts() is first
    say(room, alarms=("held is away",))
    assert "held is away" in [alarm.says for alarm in watching.facts().alarms]
    before = watching.facts()
    clock.at += LOOK_S + 1
    assert watching.facts() is not before
    assert watching.facts() == before
    watching.close()


def test_an_edit_of_the_rules_shows_after_a_while(room):
    watching, clock = watched(room)
    say(room)
    watching.facts()
    path = room.root / "workflows/stencil.yaml"
    path.write_text(path.read_text().replace("title:", "title: Fresh"))
    clock.at += max(LOOK_S, BOOK_S) + 1
    titles = [workflow.title for workflow in watching.facts().workflows]
    assert any(title.startswith("Fresh") for title in titles)
    watching.close()


class BadDisk(Glance):
    """Looks once; from then on the disk fails."""

    looks = 0

    def look(self, *words):
        self.looks += 1
        if self.looks > 1:
            raise OSError(errno.EIO, "Input/output error", "/srv/plates")
        return super().look(*words)


def test_a_disk_that_fails_is_an_alarm_and_the_last_look_stays(room, sheet):
    room.drop("1041.csv", sheet(customer="Nobody & Sons"))
    room.sweep()
    site, clock = read_site(room.root), SteppedClock()
    watching = Watching(site, clock, BadDisk(site, clock))
    say(room)
    assert [job.job for job in watching.facts().stopped] == ["1041"]
    clock.at += LOOK_S + 1
    for _ in range(2):
        facts = watching.facts()
        assert facts.alarms[0].says == (
            "THIS SCREEN SEES NOTHING NEW: /srv/plates: Input/output error"
        )
        assert [job.job for job in facts.stopped] == ["1041"]
    watching.close()


def test_one_odd_file_hides_no_other_job(room, sheet):
    for job in ("1041", "1042"):
        room.drop(f"{job}.csv", sheet(job=job, customer="Nobody & Sons"))
    room.sweep()
    odd = room.root / "held/liquid-plate/1042/verdict.json"
    odd.unlink()
    odd.symlink_to("/etc/hostname")
    watching, _ = watched(room)
    facts = watching.facts()
    assert {job.job: bool(job.href) for job in facts.stopped} == {"1042": False, "1041": True}
    watching.close()


def test_a_held_job_whose_folder_was_taken_away_says_where_to_look(room, sheet):
    room.drop("1041.csv", sheet(customer="Nobody & Sons"))
    room.sweep()
    (room.root / "held/liquid-plate/1041").rename(room.root / "elsewhere")
    watching, _ = watched(room)
    (job,) = watching.facts().stopped
    assert "no customer is called" in job.why
    assert job.do == "Look for its folder held/liquid-plate/1041: it cannot be read."
    assert job.href == ""
    watching.close()
