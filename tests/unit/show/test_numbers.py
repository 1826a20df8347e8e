from decimal import Decimal
from math import inf, nan

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gatekeeper.show.numbers import SAME, compared, digits, with_unit

readings = st.floats(-1e6, 1e6)
units = st.sampled_from(["density", "percent", "mm", "days", ""])


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (2.7, "density", "2.70"),
        (2.695, "density", "2.695"),
        (2.8966666667, "density", "2.897"),
        (2.8 - 0.1, "density", "2.70"),  # 2.6999999999999997 in binary
        (50.0, "percent", "50.0"),
        (52.0833333, "percent", "52.08"),
        (18.0, "days", "18"),
        (18.25, "days", "18.25"),
        (598.93, "mm", "598.93"),
        (-0.0, "density", "0.00"),
        (-0.0001, "density", "0.00"),
        (-0.02, "density", "-0.02"),
        (1e300, "density", "1e+300"),
        (nan, "density", "nan"),
        (inf, "", "inf"),
        (3, "patches", "3"),
    ],
)
def test_a_number_is_shown_as_the_trade_writes_it(value, unit, shown):
    assert digits(value, unit) == shown


@pytest.mark.parametrize(
    ("value", "limit", "unit", "shown"),
    [
        (2.695, 2.70, "density", ("2.695", "2.70")),
        (47.9996, 48.0, "percent", ("47.9996", "48.0")),
        (52.1, 52.0, "percent", ("52.1", "52.0")),
        (52.0, 52.0, "percent", ("52.0", "52.0")),
        (2.8 - 0.1, 2.7, "density", ("2.70", "2.70")),
        (365.00001, 365.0, "days", ("365.00001", "365")),
        (0.0004, 0.0, "density", ("0.0004", "0.00")),
    ],
)
def test_digits_show_which_number_is_larger(value, limit, unit, shown):
    assert compared(value, limit, unit) == shown


@given(readings, readings, units)
def test_shown_numbers_compare_as_the_unrounded_ones_do(value, limit, unit):
    assume(abs(value - limit) > 2 * SAME)
    shown, shown_limit = map(Decimal, compared(value, limit, unit))
    assert (shown < shown_limit) == (value < limit)
    assert shown != shown_limit


@given(readings, st.floats(1e-8, 1e-3), units)
def test_near_misses_are_seen(limit, miss, unit):
    value = limit - miss
    assume(limit - value > 2 * SAME)
    shown, shown_limit = map(Decimal, compared(value, limit, unit))
    assert shown < shown_limit


@given(readings, units)
def test_what_is_shown_is_near_what_was_read(value, unit):
    assert abs(Decimal(digits(value, unit)) - Decimal(value)) <= Decimal("0.0051")


@given(st.floats(), st.floats(), units)
def test_no_number_breaks_the_line(value, limit, unit):
    assert all(len(shown) <= 26 and shown.isascii() for shown in compared(value, limit, unit))


def test_units_are_written_as_signs_and_agree_in_number():
    assert with_unit("2.70", "density") == "2.70 density"
    assert with_unit("51.2", "percent") == "51.2 %"
    assert with_unit("1", "patches") == "1 patch"
    assert with_unit("1", "days") == "1 day"
    assert with_unit("2", "days") == "2 days"
    assert with_unit("matte-5mil", "") == "matte-5mil"
