from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from gatekeeper.readers.moments import moment_of
from gatekeeper.readers.refusal import RefusedValueError

BERLIN = ZoneInfo("Europe/Berlin")


def utc(text, **settings):
    moment = moment_of(text, time_zone=settings.pop("time_zone", BERLIN), **settings)
    return moment.instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S"), moment.has_time


@pytest.mark.parametrize(
    ("text", "instant", "has_time"),
    [
        ("2026-11-20", "2026-11-19T23:00:00", False),
        ("20261120", "2026-11-19T23:00:00", False),
        ("2026-11-20 09:40", "2026-11-20T08:40:00", True),
        ("2026-11-20 9:40", "2026-11-20T08:40:00", True),
        ("2026-11-20T09:40:05", "2026-11-20T08:40:05", True),
        ("2026-11-20T09:40:05.25Z", "2026-11-20T09:40:05", True),
        ("20261120T0940Z", "2026-11-20T09:40:00", True),
        ("2026-11-20 09:40+01", "2026-11-20T08:40:00", True),
        ("2026-11-20 09:40 -05:00", "2026-11-20T14:40:00", True),
        ("2026-11-20 09:40−0500", "2026-11-20T14:40:00", True),
        ("2026-07-01 09:40", "2026-07-01T07:40:00", True),
    ],
)
def test_iso_dates_and_times_are_instants_in_the_sites_zone(text, instant, has_time):
    assert utc(text) == (instant, has_time)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("03/04/2026", "4 March 2026 and as 3 April 2026"),
        ("03.04.2026 10:05", "4 March 2026 and as 3 April 2026"),
        ("13/04/2026", "not in a form that this site has declared"),
        ("2026/11/20", "not in a form that this site has declared"),
        ("26-11-20", "can be read as"),
        ("03/04", "without a year"),
        ("20 Nov", "without a year"),
        ("10:05", "without a day"),
        ("2026-02-30", "there is no day"),
        ("2026-11-20 24:05", "there is no day or time"),
        ("2026-11-20 09:60", "there is no day or time"),
        ("2026-11-20 9:40 pm", "twelve-hour"),
        ("1026-11-20", "not in this or the last century"),
        ("yesterday", "is not a date"),
        ("\uff12\uff10\uff12\uff16-11-20", "is not a date"),
        ("2026-11-20 09:40+99:00", "there is no day or time"),
        ("2026-W47-5", "is not a date"),
        ("46346", "is not a date"),
        ("2" * 9000, "is not a date"),
    ],
)
def test_what_is_no_date_or_could_be_two_is_refused_with_its_reason(text, says):
    with pytest.raises(RefusedValueError) as refused:
        utc(text)
    assert says in refused.value.says
    assert "write" in refused.value.do


def test_a_declared_format_settles_which_number_is_the_day():
    formats = ["%d/%m/%Y %H:%M", "%d/%m/%Y"]
    assert utc("03/04/2026 10:05", date_formats=formats) == ("2026-04-03T08:05:00", True)
    assert utc("03/04/2026", date_formats=formats) == ("2026-04-02T22:00:00", False)


def test_two_declared_formats_that_disagree_are_refused_with_both_meanings():
    with pytest.raises(RefusedValueError, match="2026-03-04 00:00 and as 2026-04-03 00:00"):
        utc("03/04/2026", date_formats=["%d/%m/%Y", "%m/%d/%Y"])
    assert utc("04/04/2026", date_formats=["%d/%m/%Y", "%m/%d/%Y"])


# Clock changes of the zone in 2026: tz database, last Sundays of March and October at 01:00 UTC.
def test_a_local_time_that_the_clock_skips_is_refused():
    with pytest.raises(RefusedValueError, match="does not exist"):
        utc("2026-03-29 02:30")


def test_a_local_time_that_comes_twice_is_refused_naming_both_and_taken_with_its_offset():
    with pytest.raises(RefusedValueError) as refused:
        utc("2026-10-25 02:30")
    assert "02:30+02:00 and as 2026-10-25 02:30+01:00" in refused.value.says
    assert utc("2026-10-25 02:30+01:00") == ("2026-10-25T01:30:00", True)


def test_a_bare_date_is_taken_where_its_midnight_falls_into_a_clock_change():
    # Santiago set its clock forward at midnight of 6 September 2026: tz database.
    moment = moment_of("2026-09-06", time_zone=ZoneInfo("America/Santiago"))
    assert moment.instant.date() == datetime(2026, 9, 6, tzinfo=UTC).date()
