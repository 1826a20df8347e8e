"""Charts from facts: what is in them, equal bytes for equal facts, and no harm by foreign text."""

import re
import xml.etree.ElementTree as ET  # our own output, of our own facts
from dataclasses import replace
from datetime import UTC, timedelta
from zoneinfo import ZoneInfo

import pytest
from charted import BEGIN, CURVE, FACTS, POINTS, point
from hypothesis import given, settings
from hypothesis import strategies as st

from gatekeeper.show import svg
from gatekeeper.show.chart_text import ASCII, chart_lines
from gatekeeper.show.charts import control_svg, curve_svg, signals
from gatekeeper.show.drawn_scale import scale_svg
from gatekeeper.show.limits import Direction, Edge, Figures

SVG = "{http://www.w3.org/2000/svg}"
LONDON = ZoneInfo("Europe/London")


def parsed(text):
    return ET.fromstring(text)  # noqa: S314 -- our own output


def texts(drawn):
    return [entry.text for entry in parsed(drawn).iter(f"{SVG}text")]


def count(drawn, name):
    return len(list(parsed(drawn).iter(SVG + name)))


def test_a_control_chart_names_its_limits_and_units():
    said = texts(control_svg(FACTS, LONDON))
    for words in (
        "tolerance, at most 52.0 %",
        "tolerance, at least 48.0 %",
        "control limit 51.1 %",
        "level 50.0 %",
        "tint 50, %",
        "day of printing",
        "expected on 17 Oct",
    ):
        assert words in said


def test_readings_that_signal_are_marked_by_shape_and_number_and_told_in_words():
    drawn = control_svg(FACTS, LONDON)
    assert count(drawn, "polygon") == 2
    assert count(drawn, "circle") == 13 + 1  # the readings that are not held, and the forecast's
    assert {"1", "2"} <= set(texts(drawn))
    assert signals(FACTS, LONDON) == [
        (1, "job 1012, 13 Oct, 51.4 %: beyond its control limit"),
        (2, "job 1013, 14 Oct, 52.3 %: beyond its control limit, nine on one side"),
    ]


def test_a_chart_tells_what_it_says_to_who_cannot_see_it():
    root = parsed(control_svg(FACTS, LONDON))
    assert root.get("role") == "img"
    assert root.get("aria-label") == f"{FACTS.title}. it has crept up"
    assert root.find(f"{SVG}title").text == FACTS.title


def test_equal_facts_give_equal_bytes():
    assert control_svg(FACTS, LONDON) == control_svg(replace(FACTS), LONDON)


def test_marks_stand_where_the_axes_say():
    drawn = parsed(control_svg(replace(FACTS, forecast=None), LONDON))
    marks = [float(entry.get("cy")) for entry in drawn.iter(f"{SVG}circle")]
    by_value = sorted(zip([entry.value for entry in POINTS[:13]], marks, strict=True))
    heights = [height for _, height in by_value]
    assert heights == sorted(heights, reverse=True)  # higher values stand higher up
    low, high = by_value[0], by_value[-1]
    middle = min(by_value, key=lambda pair: abs(pair[0] - 50.3))
    share = (middle[0] - low[0]) / (high[0] - low[0])
    assert middle[1] == pytest.approx(low[1] + share * (high[1] - low[1]), abs=0.2)


def test_no_color_stands_in_a_drawing():
    for drawn in (
        control_svg(FACTS, LONDON),
        curve_svg(CURVE),
    ):
        colours = set(re.findall(r'(?:fill|stroke)="([^"]+)"', drawn))
        assert colours <= {"currentColor", "none"}
        assert "style=" not in drawn  # the page's policy allows none


def test_text_from_outside_is_escaped():
    nasty = '</svg><script>alert("1")</script>'
    drawn = control_svg(replace(FACTS, title=nasty, quantity=nasty, says=(nasty,)), LONDON)
    assert "<script" not in drawn
    assert parsed(drawn).find(f"{SVG}title").text == nasty


def test_a_chart_without_readings_is_no_chart():
    assert control_svg(replace(FACTS, points=()), LONDON) == ""
    assert chart_lines(replace(FACTS, points=()), LONDON) == []


def test_a_forecast_far_out_takes_half_of_the_chart_at_most():
    ahead = replace(FACTS.forecast, until=BEGIN + timedelta(days=4000))
    drawn = control_svg(replace(FACTS, forecast=ahead), LONDON)
    places = [float(entry.get("cx")) for entry in parsed(drawn).iter(f"{SVG}circle")]
    assert max(places) > 250


values = st.floats(-1e6, 1e6)


@given(
    st.lists(st.tuples(st.integers(0, 900), values, st.booleans()), min_size=1, max_size=30),
    st.none() | values,
    st.none() | values,
    st.sampled_from(["percent", "density"]),
)
@settings(max_examples=60, deadline=None)
def test_no_readings_break_a_chart(rows, low, high, unit):
    facts = replace(
        FACTS,
        unit=unit,
        points=tuple(point(when, value, held=held) for when, value, held in sorted(rows)),
        tolerance_lower=low,
        tolerance_upper=high,
        stretches=(replace(FACTS.stretches[0], centre=low, lower=None, upper=None),),
    )
    drawn = control_svg(facts, UTC)
    parsed(drawn)
    assert "nan" not in drawn
    lines = chart_lines(facts, UTC, width=60, marks=ASCII)
    assert len(lines) == 13
    assert max(map(len, lines[:-2])) <= 60


@pytest.mark.parametrize(
    ("edge", "marks"),
    [
        (Edge(2.695, 2.7, Direction.AT_LEAST), {"line": 2 + 1 + 1 + 2, "circle": 0}),
        (Edge(2.8, 2.7, Direction.AT_LEAST), {"line": 2 + 1 + 1, "circle": 2}),
        (Edge(2.8, 2.7, Direction.AT_LEAST, uncertainty=0.1), {"line": 2 + 1 + 1 + 3, "circle": 2}),
        (Edge(52.1, 52.0, Direction.AROUND, 50.0), {"line": 2 + 2 + 1 + 2, "circle": 0}),
    ],
)
def test_a_scale_marks_limit_reading_and_doubt_by_shape(edge, marks):
    drawn = scale_svg(edge, Figures("2.695 density", "at least 2.70 density", "", ""), "solid")
    assert {name: count(drawn, name) for name in marks} == marks
    assert texts(drawn) == ["2.695 density", "at least 2.70 density"]
    assert parsed(drawn).get("aria-label") == (
        "measured 2.695 density, asked at least 2.70 density. solid"
    )


def test_a_limit_that_points_nowhere_has_no_scale():
    assert scale_svg(Edge(1, 2, Direction.UNKNOWN), Figures("", "", "", ""), "") == ""


def test_a_tone_curve_shows_before_and_after_with_marks_of_their_own():
    drawn = curve_svg(CURVE)
    assert {"asked, %", "reads, %", "wedge, before", "expected after", "set aside"} <= set(
        texts(drawn)
    )
    rings = [entry for entry in parsed(drawn).iter(f"{SVG}circle") if entry.get("fill") == "none"]
    assert len(rings) == 3 + 1  # with the one of the legend
    says = "mid-tone reads 58.0 % now and should read 50.2 ± 0.6 % through this curve"
    assert parsed(drawn).get("aria-label") == f"{CURVE.title}. {says}"
    sound = replace(CURVE, readings=CURVE.readings[:2])
    assert "set aside" not in texts(curve_svg(sound))


def test_only_the_newest_readings_are_drawn_and_earlier_stretches_end_at_the_edge():
    many = tuple(point(index, 50 + index % 2, stretch=int(index > 600)) for index in range(900))
    stretches = (
        replace(FACTS.stretches[0], ended=many[600].when),
        replace(FACTS.stretches[0], began=many[601].when, ended=many[-1].when),
    )
    facts = replace(FACTS, points=many, stretches=stretches, forecast=None)
    drawn = parsed(control_svg(facts, LONDON))
    assert len(list(drawn.iter(f"{SVG}circle"))) == 250
    ends = [float(entry.get(end)) for entry in drawn.iter(f"{SVG}line") for end in ("x1", "x2")]
    assert min(ends) >= 52  # the ticks of the axis


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (0, 100, [0, 20, 40, 60, 80, 100]),
        (47.8, 52.2, [48, 49, 50, 51, 52]),
        (2.61, 2.79, [2.65, 2.70, 2.75]),
        (5, 5, [5]),
    ],
)
def test_ticks_are_round_and_within_the_axis(low, high, expected):
    assert svg.Axis(low, high, 0, 1).ticks() == pytest.approx(expected)


def test_numbers_are_short_and_never_minus_nothing():
    assert [svg.number(value) for value in (1, 1.25, -0.01, 10.0)] == ["1", "1.2", "0", "10"]
    assert svg.element("a", stroke_width=2, class_='"') == '<a stroke-width="2" class="&quot;"/>'


def test_a_chart_in_letters_shows_the_gravest_mark_and_a_legend():
    lines = chart_lines(FACTS, LONDON, marks=ASCII)
    assert lines[-1] == "%: o reading  X held  * signals  = tolerance  - control limit  . level"
    assert lines[-2].split() == ["1", "Oct", "14", "Oct"]
    body = "\n".join(lines[:-2])
    assert body.count("X") == 1
    assert body.count("*") == 1
    assert any(line.startswith("52.0  ===") for line in lines)
    assert all(line == line.rstrip() for line in lines)
