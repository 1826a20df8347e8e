from datetime import timedelta

import pytest
from readings import SETUP, START, Setup, points, series

from gatekeeper.control.segments import current, segments_of

NEXT_WEEK = START + timedelta(days=7)


@pytest.mark.parametrize(
    ("after", "because"),
    [
        (SETUP._replace(curve="2026-09-08"), "new curve of 2026-09-08"),
        (SETUP._replace(lot="M5-0400"), "film lot M5-0400"),
        (SETUP._replace(head="2026-09-07"), "head changed on 2026-09-07"),
        (Setup("", "M5-0400", ""), "no curve on record, film lot M5-0400"),
    ],
)
def test_a_new_curve_lot_or_head_begins_a_segment_and_says_so(after, because):
    found = segments_of(
        series([*points([50.1, 50.2]), *points([49.9], setup=after, start=NEXT_WEEK)])
    )
    assert [segment.values for segment in found] == [[50.1, 50.2], [49.9]]
    assert [segment.because for segment in found] == ["", because]
    assert current(found) is found[1]


def test_two_lots_used_by_turns_are_two_segments_and_no_more():
    other = SETUP._replace(lot="M5-0400")
    mixed = sorted(
        [*points([50.0] * 3), *points([51.0] * 3, setup=other, start=START + timedelta(hours=1))],
        key=lambda point: point.when,
    )
    found = segments_of(series(mixed))
    assert [segment.values for segment in found] == [[50.0] * 3, [51.0] * 3]


def test_current_is_the_segment_of_the_newest_reading_not_the_one_that_began_last():
    other = SETUP._replace(lot="M5-0400")
    mixed = [*points([50.0]), *points([51.0], setup=other, start=NEXT_WEEK)]
    mixed += points([50.2], start=NEXT_WEEK + timedelta(days=1))
    assert current(segments_of(series(mixed))).setup == SETUP
