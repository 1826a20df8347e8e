"""What the charts say reaches now.json, the board and the page."""

import json

import pytest

from gatekeeper.care.trend_watch import EVERY_S, Trends, TrendWatch
from gatekeeper.clock import SystemClock
from gatekeeper.demo.week import run_demo
from gatekeeper.room import read_book
from gatekeeper.screens.present import Present, read_present, write_present
from gatekeeper.site import read_site


class SteppedClock(SystemClock):
    """Stands still until a test moves it."""

    def __init__(self):
        self.at = 0.0

    def monotonic(self):
        return self.at


def at_once(work):
    work()


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    return run_demo(tmp_path_factory.mktemp("demo") / "site").site


def test_a_look_is_taken_once_an_hour_and_beside_the_work(site):
    clock, begun = SteppedClock(), []
    watch = TrendWatch(site, clock, begun.append)
    book = read_book(site)
    assert watch.look(book) == Trends()
    watch.look(book)
    assert len(begun) == 1
    clock.at += EVERY_S + 1
    watch.look(book)
    assert len(begun) == 2
    begun[0]()
    assert watch.look(book).charts


def test_a_site_without_history_shows_nothing_and_raises_nothing(room):
    watch = TrendWatch(read_site(room.root), SteppedClock(), at_once)
    assert watch.look(read_book(watch.site)) == Trends()


def test_a_fault_while_looking_is_logged_and_the_last_look_stays(site, caplog):
    watch = TrendWatch(site, SteppedClock(), at_once)
    assert watch.look(None) == Trends()  # no book at all: a fault of the program
    assert "a fault of the program while looking at the charts" in caplog.text


def test_the_pages_of_the_demo_draw_its_charts(site):
    page = (site.state / "page/workflows/liquid-plate.html").read_text("utf-8")
    assert "The readings of its printers" in page or "What the charts say" in page
    assert page.count("<svg") >= 1
    assert "tolerance, at most" in page


def test_news_travels_with_the_daemons_word_to_the_board(room):
    site = read_site(room.root)
    says = "mid-tone on P1 has crept up 1.4 points in 9 days; print a wedge"
    write_present(site.state, Present("2026-11-24T17:00:00+00:00", 1, "x", news=(says,)))
    assert read_present(site.state).news == (says,)
    told = room.call("board", "--site", str(room.root)).stdout
    assert "DRIFTS    mid-tone on P1 has crept up 1.4 points" in told


def test_what_an_older_daemon_wrote_is_no_word_at_all(room):
    path = room.root / "state/now.json"
    path.write_text(json.dumps({"at": "x", "process": 1, "program": "x"}))
    assert read_present(room.root / "state") is None
