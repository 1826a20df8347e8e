from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from gatekeeper.control.digest import Digest, DoubtLine, DueLine, HeldLine, RoomLine
from gatekeeper.control.shares import share
from gatekeeper.control.yields import Reason
from gatekeeper.show.digest import digest_html, digest_text, subject

SINCE = datetime(2026, 11, 24, 7, 0, tzinfo=UTC)
HELD = HeldLine("1042", "liquid-plate", "Quillmark Cartons", "the solid is too thin", SINCE)
OVER = DueLine("meter T-02", date(2026, 8, 20), -97, "calibration", "send it")
SOON = DueLine("film lot M5-0317", date(2026, 12, 1), 6, "days since the pack was opened", "load")
QUIET = Digest(
    room="Ferrybank Plate Room",
    day=date(2026, 11, 25),
    since=SINCE,
    approved=12,
    first_pass=share(11, 12),
    reasons=(),
    held=(),
    held_in_all=0,
    news=(),
    watched=(),
    dues=(),
    doubts=(),
    candidates=(),
    alarms=(),
)
FULL = replace(
    QUIET,
    reasons=tuple(Reason(f"rule.{number}", 9 - number, 0.1) for number in range(7)),
    held=(HELD,),
    held_in_all=3,
    news=("mid-tone on P1 has crept up 1.4 points in 9 days; print a wedge",),
    watched=("solid density on P2 stands low",),
    dues=(OVER, SOON),
    doubts=(DoubtLine("meter T-04 failed its check on 24 Nov 16:00", ("1041 (liquid-plate)",)),),
    candidates=("P1 matte-5mil liquid-plate 2026-11-24",),
    alarms=("backup: No space left on device",),
)


def text(digest=FULL):
    return digest_text(digest, UTC)


def test_subject_says_what_is_in_it():
    assert subject(FULL) == (
        "Ferrybank Plate Room, 25 Nov: 3 held, 1 drift, 1 meter in doubt, 1 overdue, 1 due soon, "
        "1 alarm"
    )
    assert subject(QUIET) == "Ferrybank Plate Room, 25 Nov: all quiet"


@pytest.mark.parametrize("render", [digest_text, digest_html])
@pytest.mark.parametrize(
    "said",
    [
        "backup: No space left on device",
        "crept up 1.4 points in 9 days; print a wedge",
        "P1 matte-5mil liquid-plate 2026-11-24",
        "solid density on P2 stands low",
        "meter T-04 failed its check",
        "1041 (liquid-plate)",
        "1042",
        "the solid is too thin",
        "and 2 older ones",
        "OVER for 97 days",
        "in 6 days",
        "12 jobs approved",
        "92% (11 of 12; in the long run 65% to 99%)",
        "rule.4",
    ],
)
def test_both_forms_say_everything(render, said):
    assert said in " ".join(render(FULL, UTC).split())


def test_only_the_most_frequent_reasons_are_told():
    assert "rule.5" not in text()
    assert "rule.5" not in digest_html(FULL, UTC)


def test_what_presses_comes_before_what_is_only_worth_knowing():
    order = ["WRONG WITH THE ROOM", "ACT TODAY", "KEEP AN EYE ON", "3 JOBS HELD", "DUE", "JOBS"]
    places = [text().index(f"{title}\n") for title in order]
    assert places == sorted(places)


def test_a_quiet_morning_is_short():
    assert QUIET.is_quiet
    assert not FULL.is_quiet
    lines = text(QUIET).splitlines()
    assert lines[0].endswith("all quiet")
    assert len(lines) == 5
    assert "Act today" not in digest_html(QUIET, UTC)


def test_text_fits_a_page():
    assert max(map(len, text().splitlines()[1:])) <= 78


def test_html_escapes_whatever_came_from_a_sheet():
    hostile = replace(HELD, job="<script>alert(1)</script>", reason='"><img src=x onerror=y>')
    html = digest_html(replace(FULL, held=(hostile,)), UTC)
    assert "<script>" not in html
    assert "<img" not in html
    assert "&lt;script&gt;" in html


def test_html_loads_and_runs_nothing():
    html = digest_html(FULL, UTC)
    assert "default-src 'none'" in html
    for word in ("http:", "https:", "src=", "url(", "<script", "<link"):
        assert word not in html


def test_equal_facts_give_equal_bytes():
    assert digest_html(FULL, UTC) == digest_html(FULL, UTC)


@pytest.mark.parametrize("render", [digest_text, digest_html])
def test_jobs_under_a_concession_are_counted_apart(render):
    assert "12 jobs approved, 2 under a concession" in render(replace(QUIET, concessions=2), UTC)
    assert "concession" not in render(QUIET, UTC)


@pytest.mark.parametrize("render", [digest_text, digest_html])
def test_other_rooms_of_a_shared_history_have_a_line_each(render):
    told = render(replace(QUIET, others=(RoomLine("north", 2, 31, share(29, 33)),)), UTC)
    for said in ("north", "31", "29 of 33 jobs at the first try"):
        assert said in told
    assert "north" not in render(QUIET, UTC)
