"""The pages as the daemon keeps them."""

import json
import os
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from urllib.parse import unquote

import pytest

from gatekeeper.clock import SystemClock
from gatekeeper.room import read_book
from gatekeeper.rounds.outlook import Waiting
from gatekeeper.screens.page_files import DAY_S, SOONEST_S, Pages
from gatekeeper.screens.present import Present
from gatekeeper.site import read_site


def page(room, name="index.html"):
    path = room.root / "state/page" / name
    return path.read_text("utf-8") if path.exists() else ""


def links(text):
    return re.findall(r'href="([^"#][^"]*)"', text)


def test_the_daemon_keeps_the_page_up_to_date_and_says_when_it_stops(room, sheet, wait_for):
    with room.daemon():
        wait_for(lambda: "Nothing is held." in page(room))
        room.drop("1041.csv", sheet(customer="Nobody & Sons"))
        wait_for(lambda: "1 HELD" in page(room))
        assert "no customer is called &#34;Nobody &amp; Sons&#34;" in page(room)
        wait_for(lambda: page(room, "jobs/liquid-plate/1041.html"))
        room.drop("1041-b.csv", sheet())
        wait_for(lambda: "1 approved" in page(room))
        wait_for(lambda: "APPROVED job 1041" in page(room, "jobs/liquid-plate/1041.html"))
        assert "gate at work" in page(room)
    assert "GATE NOT AT WORK" in page(room)
    assert "the gate was stopped at" in page(room)


def test_every_link_of_every_page_leads_somewhere(room, sheet, follow):
    for name, job in (("1.csv", "1"), ("odd.csv", "a/b #7? % ü")):
        room.drop(name, sheet(job=job))
    room.drop("2.csv", sheet(job="2", customer="Nobody"))
    room.sweep()
    follow(room)
    root = room.root / "state/page"
    found = list(root.rglob("*.html"))
    assert len([path for path in found if "jobs" in path.parts]) == 3
    for path in found:
        for link in links(path.read_text("utf-8")):
            assert (path.parent / unquote(link)).is_file(), (path, link)


def test_links_of_a_job_of_no_workflow_hold_while_the_history_is_away(room, sheet, follow):
    room.drop("1.csv", sheet(workflow="gone"), "")
    room.sweep()
    (room.root / "state/history.sqlite").write_bytes(b"no database" * 999)
    follow(room)
    (found,) = (room.root / "state/page/jobs").rglob("*.html")
    for link in links(found.read_text("utf-8")):
        assert (found.parent / unquote(link)).is_file(), link


def test_a_job_whose_number_is_spelled_in_two_ways_has_one_page(room, sheet, follow):
    for name, job in (("1.csv", "Ab1"), ("2.csv", "aB1")):
        room.drop(name, sheet(job=job, customer="Nobody"))
        room.sweep()
    follow(room)
    assert [path.name for path in (room.root / "state/page/jobs").rglob("*.html")] == ["Ab1.html"]
    assert "jobs/liquid-plate/Ab1.html" in links(page(room))
    assert "HELD job aB1" in page(room, "jobs/liquid-plate/Ab1.html")


def test_thousands_of_waiting_files_leave_the_page_small_and_the_most_urgent_on_it(room, pages_of):
    waiting = [
        Waiting("a", f"{number}.csv", f"settles {number}", is_settling=True)
        for number in range(1000)
    ]
    waiting += [Waiting("c", f"{number}.pdf", "waits for its sheet") for number in range(3999)]
    pages, _, book = pages_of(room)
    pages.follow(book, present(waiting=(*waiting, Waiting("b", "1.pdf", "waits for its sheet"))))
    assert len(page(room)) < 60_000
    assert "5000 waiting" in page(room)
    assert "1.pdf" in page(room)
    assert "0.pdf and 3998 more, drop/c: waits for its sheet" in page(room)
    assert "And 802 more files" in page(room)


class SteppedClock(SystemClock):
    """Stands still until a test moves it."""

    def __init__(self):
        self.at = 1000.0

    def monotonic(self):
        return self.at


@pytest.fixture
def pages_of():
    """Make what writes the pages of a room, and its clock; it ends with the test."""
    made = []

    def make(room):
        site, clock = read_site(room.root), SteppedClock()
        made.append(Pages(site, clock))
        return made[-1], clock, read_book(site)

    yield make
    for pages in made:
        pages.end()


def present(**changes):
    return Present(at="2026-11-24T17:00:00+00:00", process=1, program="x", **changes)


@pytest.fixture
def follow(pages_of):
    """Write the pages of a room once."""

    def write(room):
        pages, _, book = pages_of(room)
        pages.follow(book, present())

    return write


def stamp(room):
    return (room.root / "state/page/index.html").stat().st_mtime_ns


def test_nothing_is_written_while_nothing_changes_but_a_renewal(room, pages_of):
    pages, clock, book = pages_of(room)
    pages.follow(book, present(), filed=False)
    first = stamp(room)
    for _ in range(3):
        clock.at += 60
        pages.follow(book, replace(present(), at="another moment"), filed=False)
    assert stamp(room) == first
    clock.at += 200
    pages.follow(book, present(), filed=False)
    assert stamp(room) != first


def test_a_change_right_after_a_writing_is_put_off_and_not_forgotten(room, pages_of):
    pages, clock, book = pages_of(room)
    pages.follow(book, present())
    pages.follow(book, present(alarms=("held is away",)), filed=False)
    assert "held is away" not in page(room)
    pages.catch_up()
    assert "held is away" not in page(room)
    clock.at += SOONEST_S
    pages.catch_up()
    assert "held is away" in page(room)


def test_pages_of_jobs_on_no_list_go_after_a_while_and_those_on_a_list_stay(
    room, sheet, pages_of, tmp_path
):
    def aged(name, days):
        path = room.root / "state/page/jobs/liquid-plate" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
        moment = (datetime.now(UTC) - timedelta(days=days)).timestamp()
        os.utime(path, (moment, moment))
        return path

    room.drop("1041.csv", sheet())
    room.sweep()
    pages, clock, book = pages_of(room)
    pages.follow(book, present())
    old, young, listed = aged("9.html", 61), aged("10.html", 59), aged("1041.html", 61)
    elsewhere = tmp_path / "plans.html"
    elsewhere.touch()
    link = old.parent / "11.html"
    link.symlink_to(elsewhere)
    clock.at += DAY_S - SOONEST_S
    pages.follow(book, present())
    assert old.exists(), "once a day is enough"
    clock.at += SOONEST_S
    pages.follow(book, present())
    assert [path.exists() for path in (old, young, listed, link)] == [False, True, True, True]
    os.utime(link, (0, 0), follow_symlinks=False)
    clock.at += DAY_S
    pages.follow(book, present())
    assert not link.is_symlink()
    assert elsewhere.exists()


@pytest.mark.parametrize("fault", ["a file", "no database"])
def test_what_goes_wrong_with_the_page_never_reaches_the_gate(room, sheet, caplog, fault, pages_of):
    room.drop("1041.csv", sheet())
    room.sweep()
    if fault == "a file":
        (room.root / "state/page").write_text("in the way")
    else:
        (room.root / "state/history.sqlite").write_bytes(b"no database" * 999)
    pages, clock, book = pages_of(room)
    for _ in range(3):
        clock.at += 10
        pages.follow(book, present())
    told = [record for record in caplog.records if "page" in record.getMessage()]
    assert len(told) == (1 if fault == "a file" else 0)  # once, not at each round
    if fault == "no database":
        assert "the history is away" in page(room)


def test_a_job_that_vanishes_at_this_moment_is_passed_over(room, sheet, follow):
    room.drop("1041.csv", sheet())
    room.sweep()
    (room.root / "approved/liquid-plate/1041").rename(room.root / "elsewhere")
    follow(room)
    assert "job 1041" in page(room)
    assert page(room, "jobs/liquid-plate/1041.html") == ""
    assert "1041.html" not in page(room)  # a link would lead nowhere


def test_one_odd_file_keeps_no_other_page_from_being_written(room, sheet, follow):
    for job in ("1041", "1042"):
        room.drop(f"{job}.csv", sheet(job=job))
    room.sweep()
    odd = room.root / "approved/liquid-plate/1042/verdict.json"
    odd.unlink()
    odd.symlink_to("/etc/hostname")
    follow(room)
    assert page(room, "jobs/liquid-plate/1041.html")
    assert page(room, "jobs/liquid-plate/1042.html") == ""


def test_the_page_of_a_full_room_stays_small(room, sheet, follow):
    room.drop("1041.csv", sheet())
    room.sweep()
    follow(room)
    assert len(page(room)) < 20_000
    assert len(page(room, "jobs/liquid-plate/1041.html")) < 40_000
    assert json.dumps(sorted(p.name for p in (room.root / "state/page").iterdir())) == (
        '["index.html", "jobs", "still.html", "wall.html", "workflows"]'
    )
