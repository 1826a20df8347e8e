from datetime import UTC, date, timedelta

from readings import START, film

from gatekeeper.control.meter_doubt import doubts
from gatekeeper.verdict import Decision

CALIBRATED = {"T-04": date(2026, 8, 1), "T-07": date(2026, 8, 1)}
GOOD, BAD = Decision.APPROVED, Decision.HELD


def check(day, decision, meter="T-04"):
    at = START + timedelta(days=day)
    return film(
        (),
        workflow="meter-checks",
        job=f"{meter} {day}",
        day=day,
        measured=at,
        decision=decision,
        meter=meter,
        printer="",
        film_lot="",
        separation="",
    )


def job(name, day, *, meter="T-04", decision=GOOD, separation="black"):
    at = START + timedelta(days=day)
    return film(
        job=name, day=day, measured=at, meter=meter, decision=decision, separation=separation
    )


def look(*films, calibrated=CALIBRATED):
    ordered = sorted(films, key=lambda entry: entry.arrived_at)
    return doubts(ordered, calibrated, UTC)


def names(doubt):
    return [entry.job for entry in doubt.jobs]


def test_a_failed_check_lists_just_the_jobs_since_the_last_good_one():
    (doubt,) = look(
        check(0, GOOD), job("before", 1), check(5, GOOD), job("since", 6), job("too", 7),
        job("other meter", 6, meter="T-07"), check(8, BAD), job("after", 9),
    )  # fmt: skip
    assert names(doubt) == ["since", "too", "after"]
    assert (doubt.meter, doubt.since) == ("T-04", START + timedelta(days=5))
    assert doubt.failed_at == START + timedelta(days=8)
    assert doubt.until is None


def test_good_checks_leave_no_doubt():
    assert look(check(0, GOOD), job("1", 1), check(2, GOOD)) == ()
    assert look(job("1", 1)) == ()


def test_a_second_check_that_passes_lifts_the_doubt():
    assert look(check(0, GOOD), job("1", 1), check(2, BAD), check(2.1, GOOD)) == ()


def test_a_calibration_in_between_does_not_lift_it():
    put_right = {"T-04": (START + timedelta(days=10)).date()}
    (doubt,) = look(
        check(0, GOOD), job("wrong", 1), check(2, BAD), check(12, GOOD), job("right", 13),
        calibrated=put_right,
    )  # fmt: skip
    assert names(doubt) == ["wrong"]
    assert doubt.until == START + timedelta(days=12)


def test_without_an_earlier_check_doubt_reaches_back_to_the_calibration():
    (doubt,) = look(job("old", -40), job("new", 1), check(2, BAD))
    assert names(doubt) == ["new"]
    assert doubt.since.date() == date(2026, 8, 1)
    (unbounded,) = look(job("old", -40), job("new", 1), check(2, BAD), calibrated={})
    assert names(unbounded) == ["old", "new"]


def test_two_failed_checks_in_a_row_are_one_doubt_from_the_first():
    (doubt,) = look(check(0, GOOD), job("1", 1), check(2, BAD), job("2", 2.5), check(3, BAD))
    assert doubt.failed_at == START + timedelta(days=2)
    assert names(doubt) == ["1", "2"]


def test_a_job_measured_anew_with_a_sound_meter_is_out_of_doubt():
    (doubt,) = look(
        check(0, GOOD), job("1", 1), check(2, BAD), job("1", 3, meter="T-07"),
    )  # fmt: skip
    assert names(doubt) == []


def test_a_job_is_in_doubt_while_one_of_its_separations_is():
    (doubt,) = look(
        check(0, GOOD), job("1", 1), job("1", 1.1, separation="red"), check(2, BAD),
        job("1", 3, meter="T-07"),
    )  # fmt: skip
    assert names(doubt) == ["1"]


def test_approved_jobs_come_first_for_they_may_have_passed_wrongly():
    (doubt,) = look(
        check(0, GOOD), job("held", 1, decision=BAD), job("approved", 1.5), check(2, BAD)
    )
    assert [(entry.job, entry.approved) for entry in doubt.jobs] == [
        ("approved", True),
        ("held", False),
    ]


def test_each_meter_has_a_doubt_of_its_own():
    found = look(
        check(0, GOOD), check(0, GOOD, "T-07"), job("1", 1), job("2", 1, meter="t-07"),
        check(2, BAD), check(2, BAD, "T-07"),
    )  # fmt: skip
    assert [(doubt.meter, names(doubt)) for doubt in found] == [("T-04", ["1"]), ("T-07", ["2"])]


def test_checks_themselves_and_wedges_are_never_listed():
    wedge = film(workflow="wedges", job="w", day=1, measured=START + timedelta(days=1))
    (doubt,) = look(check(0, GOOD), wedge, check(2, BAD), check(3, BAD))
    assert names(doubt) == []
