import dataclasses
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.rules.compile import field_of
from gatekeeper.rules.models import Limits, Stricter
from gatekeeper.show.limits import Direction, Edge, direction_of, edge_of, figures_of
from gatekeeper.show.scale import ASCII, is_missed, legend, scale
from gatekeeper.verdict import Finding, Outcome

SOLID = Finding(
    "solid_density", "solid_density.min", Outcome.HOLD, "thin", measured=2.695, limit=2.7,
    unit="density", off=0.005,
)  # fmt: skip
TINT = Finding(
    "tints", "tints.50.tolerance", Outcome.HOLD, "full", measured=52.04, limit=2.0,
    unit="percent", off=0.04,
)  # fmt: skip
CLEAR = Finding(
    "clear_density", "clear_density.max", Outcome.PASS, "clear", measured=0.04, limit=0.1,
    unit="density",
)  # fmt: skip


def limits_in_force():
    """Every limit that a rule file may set, as the models of the rules name them."""

    def walk(model, path):
        for name, field in model.model_fields.items():
            extra = field.json_schema_extra
            inner = next(
                (part for part in field.annotation.__args__ if hasattr(part, "model_fields")), None
            )
            if name == "tints":
                yield ("tints", "50", "tolerance")
            elif isinstance(extra, dict) and name != "required":
                if not extra["is_setting"]:
                    yield (*path, name)
            elif inner is not None:
                yield from walk(inner, (*path, name))

    # `decision` says how readings are compared; nothing is compared with it.
    return list(walk(Limits, ()))


WAYS = {
    Stricter.HIGHER: {Direction.AT_LEAST},
    Stricter.LOWER: {Direction.AT_MOST, Direction.AROUND},
    Stricter.SUBSET: {Direction.ONE_OF},
    Stricter.PRESENT: {Direction.NO_SIGNAL_OF},
}


def test_the_rules_have_limits_to_compare():
    assert len(limits_in_force()) > 15


@pytest.mark.parametrize("path", limits_in_force(), ids=".".join)
def test_the_report_says_the_direction_in_which_the_rules_tighten(path):
    _, stricter = field_of(path)
    assert direction_of(".".join(path)) in WAYS[stricter]


@pytest.mark.parametrize(
    ("changes", "measured", "asked", "off"),
    [
        ({}, "2.695 density", "at least 2.70 density", "0.005 density"),
        ({"measured": None, "off": None}, "", "at least 2.70 density", ""),
        ({"off": -0.0004}, "2.695 density", "at least 2.70 density", "0.0004 density"),
        ({"measured": nan, "off": nan}, "nan density", "at least 2.70 density", ""),
        ({"measured": inf}, "inf density", "at least 2.70 density", "0.005 density"),
        ({"rule": "film.stocks", "measured": "m5", "limit": "m5, m8", "unit": "", "off": None},
         "m5", "one of m5, m8", ""),
        ({"measured": "no reading"}, "no reading", "at least 2.70 density", "0.005 density"),
        ({"rule": "plausibility.same_readings_days", "measured": "no other job", "limit": 14.0,
          "unit": "days", "off": None}, "no other job", "none within 14 days", ""),
        ({"rule": "plausibility.same_readings_days", "measured": 3.0, "limit": 14.0,
          "unit": "days", "off": 11.0}, "3 days", "at least 14 days", "11 days"),
        ({"rule": "sheet.kind", "limit": None}, "2.695 density", "", "0.005 density"),
    ],
)  # fmt: skip
def test_figures_carry_digits_units_and_direction(changes, measured, asked, off):
    figures = figures_of(dataclasses.replace(SOLID, **changes))
    assert (figures.measured, figures.asked, figures.off) == (measured, asked, off)


def test_a_tolerance_is_said_around_its_nominal():
    figures = figures_of(TINT)
    assert (figures.measured, figures.asked, figures.off) == ("52.04 %", "50 +/- 2.0 %", "0.04 %")
    thin = dataclasses.replace(TINT, measured=47.9996, off=0.0004)
    assert figures_of(thin).measured == "47.9996 %"
    unread = dataclasses.replace(TINT, measured=None)
    assert figures_of(unread).asked == "50 +/- 2.0 %"


@pytest.mark.parametrize(
    ("finding", "label"),
    [
        (SOLID, "short by"),
        (TINT, "over by"),
        (dataclasses.replace(TINT, measured=47.9), "short by"),
        (dataclasses.replace(SOLID, measured="none"), "off by"),
    ],
)
def test_the_label_says_on_which_side_a_reading_lies(finding, label):
    assert figures_of(finding).off_label == label


@pytest.mark.parametrize("rule", ["tints.x.tolerance", "tints.nan.tolerance", "tolerance"])
def test_a_tolerance_without_nominal_is_no_comparison(rule):
    odd = dataclasses.replace(TINT, rule=rule)
    assert edge_of(odd) is None
    assert figures_of(odd).asked == "+/- 2.0 %"


def test_scales_as_people_see_them():
    assert scale(edge_of(SOLID)) == "..............X|==============="
    assert scale(edge_of(TINT), half=8) == "....|=======|X..."
    assert scale(edge_of(CLEAR), half=5) == "==o==|....."
    assert scale(Edge(3.0, 3.0, Direction.AT_LEAST), half=3) == "...o==="
    assert scale(Edge(3.0, 3.0, Direction.UNKNOWN)) == ""
    assert legend(edge_of(SOLID)) == "X reading  | limit  = asked"


def test_the_span_of_the_uncertainty_is_drawn_on_both_sides_of_the_reading():
    known = dataclasses.replace(SOLID, uncertainty=0.1)
    assert scale(edge_of(known)) == ".........(....X|====)=========="
    assert legend(edge_of(known)) == "X reading  ( ) its doubt  | limit  = asked"
    # Below half a column nothing is drawn, and neither the reading nor a limit is covered.
    finely = dataclasses.replace(SOLID, uncertainty=0.0001)
    assert scale(edge_of(finely)) == "..............X|==============="
    touching = dataclasses.replace(CLEAR, uncertainty=0.08)
    assert scale(edge_of(touching), half=5) == "(==o=|)...."


@pytest.mark.parametrize("odd", [nan, inf, None])
def test_an_uncertainty_that_is_no_number_is_not_drawn(odd):
    assert edge_of(dataclasses.replace(SOLID, uncertainty=odd)).uncertainty == 0


edges = st.builds(
    Edge,
    st.floats(-1e6, 1e6),
    st.floats(-1e6, 1e6),
    st.sampled_from([Direction.AT_LEAST, Direction.AT_MOST]),
    uncertainty=st.just(0.0) | st.floats(0, 1e6),
)


@given(edges, st.integers(2, 30))
def test_a_reading_stands_on_the_side_of_the_limit_on_which_it_lies(edge, half):
    drawn = scale(edge, half=half)
    sign = ASCII.missed if is_missed(edge) else ASCII.kept
    assert len(drawn) == 2 * half + 1
    place = drawn.index(sign) - half
    assert drawn.count(sign) == 1
    if abs(edge.measured - edge.limit) > 1e-9:
        assert (place > 0) == (edge.measured > edge.limit)
        assert (ASCII.limit in drawn) == (place != 0)


@given(st.floats(0, 100), st.floats(0, 100), st.floats(0.1, 20), st.integers(3, 30))
def test_a_reading_stands_between_its_two_limits_only_if_it_keeps_them(
    measured, nominal, tolerance, half
):
    rule = f"tints.{nominal!r}.tolerance"
    edge = edge_of(dataclasses.replace(TINT, rule=rule, measured=measured, limit=tolerance))
    drawn = scale(edge, half=half)
    assert len(drawn) == 2 * half + 1
    if abs(measured - nominal) > tolerance + 1e-6:
        before = drawn[: drawn.index(ASCII.missed)].count(ASCII.limit)
        assert before in {0, 2}
    elif abs(measured - nominal) < tolerance - 1e-6:
        before = drawn[: drawn.index(ASCII.kept)].count(ASCII.limit)
        assert before == 1
