"""A segment followed reading by reading shows what the whole segment shows."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from readings import points, quiet

from gatekeeper.control.base_period import BASE_READINGS, base_period
from gatekeeper.control.followed import FollowedSegment
from gatekeeper.control.watch import Kind, watch
from gatekeeper.signals import Sign

WIDE = st.lists(st.floats(-1.5, 1.5).map(lambda step: round(step, 1)), min_size=22, max_size=60)


def followed(values):
    segment = FollowedSegment()
    for point in points(values):
        segment.add(point)
    return segment


@given(WIDE, st.sampled_from([0.0, 0.02, -0.05]))
def test_signs_at_every_reading_are_those_of_the_whole_segment(steps, drift):
    values = [50.0 + step + drift * index for index, step in enumerate(steps)]
    base = base_period(values)
    segment = FollowedSegment()
    for count, point in enumerate(points(values), start=1):
        segment.add(point)
        if count <= BASE_READINGS:
            assert segment.signs() == ()
            continue
        whole = watch(values[:count], base)
        signs, shown = segment.signs(), whole.at(count - 1)
        assert (Sign.LEVEL in signs) == whole.is_off
        assert (Sign.ONE_SIDE in signs) == (Kind.RUN in shown)
        assert (Sign.STEADY in signs) == (Kind.TREND in shown)
        assert (Sign.OUTSIDE in signs) == (Kind.BEYOND in shown)
        if whole.is_off:
            assert count - segment.excursion.readings == whole.since
            gone = values[whole.since : count]
            assert segment.excursion.level == pytest.approx(sum(gone) / len(gone))


def test_a_level_that_has_left_stands_until_it_is_back():
    values = [*quiet(24), *quiet(16, 51.0)]
    segment = followed(values)
    assert Sign.LEVEL in segment.signs()
    assert segment.excursion.since == points(values)[-segment.excursion.readings].when
    assert Sign.LEVEL not in followed([*values, *quiet(40, 49.8)]).signs()


def test_readings_that_do_not_differ_have_no_limits_and_no_signs():
    assert followed([50.0] * 40).signs() == ()
