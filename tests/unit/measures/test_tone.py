from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.tone import linearize, monotone_curve
from gatekeeper.measures.wedge import MAX_CORRECTION_SLOPE

STEPS = [0, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 100]
PERCENTS = np.linspace(0, 100, 81)
GAINS = st.floats(-20, 22)
NOISE = st.lists(st.floats(-1.5, 1.5), min_size=len(STEPS), max_size=len(STEPS))
# Rising by at least 0.2 for each percent, so that noise cannot turn the wedge round.
WEDGES = st.tuples(GAINS, NOISE)


def printer(gain):
    """Dot gain as a parabola that is highest at 50 %, as textbooks draw it."""
    return lambda percent: percent + 4 * gain * percent * (100 - percent) / 1e4


def read(gain, noise=None):
    noise = noise or [0.0] * len(STEPS)
    dots = [printer(gain)(step) + off for step, off in zip(STEPS, noise, strict=True)]
    return [0.0, *dots[1:-1], 100.0]


@given(WEDGES)
def test_corrected_tint_reads_as_wanted(wedge):
    curve = linearize(STEPS, read(*wedge))
    assert curve.predict(curve.correct(PERCENTS)) == pytest.approx(PERCENTS, abs=1e-9)
    assert curve.correct(curve.predict(PERCENTS)) == pytest.approx(PERCENTS, abs=1e-9)


@given(WEDGES)
def test_tone_rises_and_keeps_its_ends(wedge):
    curve = linearize(STEPS, read(*wedge))
    for tone in (curve.predict, curve.correct):
        assert (tone(0), tone(100)) == (0.0, 100.0)
        assert (np.diff(tone(PERCENTS)) > 0).all()


@given(WEDGES)
def test_correction_is_never_steeper_than_its_limit(wedge):
    curve = linearize(STEPS, read(*wedge))
    steepest = np.diff(curve.correct(PERCENTS)).max() / (PERCENTS[1] - PERCENTS[0])
    assert steepest <= MAX_CORRECTION_SLOPE + 1e-6


@given(GAINS)
def test_printer_without_noise_is_found_again(gain):
    curve = linearize(STEPS, read(gain))
    assert curve.predict(PERCENTS) == pytest.approx(printer(gain)(PERCENTS), abs=0.2)
    assert curve.residuals == pytest.approx([0.0] * len(STEPS), abs=1e-9)
    assert curve.leave_one_out < 0.3
    assert curve.outliers == ()


def test_noise_that_makes_readings_fall_is_taken_out():
    curve = linearize([0, 40, 50, 60, 100], [0, 52, 61, 59, 100])
    assert curve.predict(50) < curve.predict(60)
    assert curve.predict([50, 60]) == pytest.approx([59.5, 60.5])
    assert curve.residuals == pytest.approx([0, 0, 1.5, -1.5, 0])


def test_stretch_where_the_printer_stands_still_does_not_make_the_correction_jump():
    curve = linearize([0, 30, 50, 60, 70, 100], [0, 35, 50, 50, 50, 100])
    sent = curve.correct([50 - 0.05, 50 + 0.05])
    assert sent[1] - sent[0] <= 0.1 * MAX_CORRECTION_SLOPE + 1e-9


def test_full_gain_before_the_end_keeps_room_to_rise():
    curve = linearize([0, 50, 90, 100], [0, 80, 100, 100])
    assert curve.predict(90) == pytest.approx(99.0)
    assert curve.residuals[2] == pytest.approx(1.0)


def test_reading_below_nothing_is_kept_at_nothing():
    curve = linearize([0, 2, 50, 100], [0, -0.4, 50, 100])
    assert curve.predict(2) == pytest.approx(2 / MAX_CORRECTION_SLOPE)


@given(st.permutations(list(range(len(STEPS)))))
def test_order_of_the_patches_does_not_matter(order):
    dots = read(15, [0.3 * (-1) ** step for step in range(len(STEPS))])
    straight = linearize(STEPS, dots)
    mixed = linearize([STEPS[i] for i in order], [dots[i] for i in order])
    assert mixed.correct(PERCENTS) == pytest.approx(straight.correct(PERCENTS))
    assert mixed.residuals == tuple(straight.residuals[i] for i in order)
    assert mixed.leave_one_out == pytest.approx(straight.leave_one_out)


def test_repeats_are_averaged_and_weigh_more():
    once = linearize([25, 50, 75], [38, 66, 86])
    again = linearize([25, 50, 50, 75], [38, 65, 67, 86])
    assert again.correct(PERCENTS) == pytest.approx(once.correct(PERCENTS))
    assert again.residuals == pytest.approx([0, -1, 1, 0])
    # Two readings of 60 against one of 57: with the least rise of 0.1 a percent taken off, the
    # mean of 55, 55 and 51.5 is 53.8333.
    pooled = linearize([50, 50, 55, 90], [60, 60, 57, 92])
    assert pooled.predict(50) == pytest.approx(5 + 161.5 / 3)


def test_ends_are_kept_whatever_their_patches_read():
    curve = linearize([0, 50, 100], [0.6, 60, 98.5])
    assert curve.predict([0, 100]) == [0.0, 100.0]
    assert curve.residuals == pytest.approx([0.6, 0.0, -1.5])


@given(GAINS, st.floats(-18, 18))
def test_wedge_printed_through_the_curve_in_use_gives_the_whole_new_curve(old, new):
    in_use = linearize(STEPS, read(old))
    wedge = [printer(new)(sent) for sent in in_use.correct(STEPS)]
    curve = linearize(STEPS, wedge, in_use=in_use)
    assert curve.sent == pytest.approx(in_use.correct([float(step) for step in STEPS]), abs=1e-8)
    assert printer(new)(curve.correct(PERCENTS)) == pytest.approx(PERCENTS, abs=0.6)


def test_steady_printer_gets_its_curve_back():
    in_use = linearize(STEPS, read(18))
    wedge = [in_use.predict(sent) for sent in in_use.correct([float(step) for step in STEPS])]
    again = linearize(STEPS, wedge, in_use=in_use)
    assert again.correct(PERCENTS) == pytest.approx(in_use.correct(PERCENTS), abs=0.3)


def test_curve_in_use_may_be_a_table():
    table = monotone_curve([0, 50, 100], [0, 40, 100])
    curve = linearize([25, 50, 75], [25, 50, 75], in_use=table)
    assert curve.correct(50) == pytest.approx(40.0)


@pytest.mark.parametrize(
    ("in_use", "message"),
    [
        (lambda percent: percent / 2, r"in_use sends 0.0 for 0 and 50.0 for 100 percent"),
        (lambda percent: (percent - 50) ** 2 / 25, r"in_use sends 100.0 for 0"),
        (lambda percent: 60.0 if percent == 25 else percent, r"falls between 25.0 and 50.0"),
        (lambda percent: percent * 2, r"in_use is 150.0 but must be at most 100"),
        (lambda _: float("nan"), r"in_use is nan, not a finite number"),
        ([0, 50, 100], r"in_use must be a ToneCurve or a function"),
    ],
)
def test_what_cannot_be_a_curve_in_use_is_refused(in_use, message):
    with pytest.raises(MeasureError, match=message):
        linearize([25, 50, 75], [30, 55, 80], in_use=in_use)


@pytest.mark.parametrize("gain", [0, 12, 20])
@pytest.mark.parametrize("off", [-8.0, 8.0])
@pytest.mark.parametrize("patch", range(2, len(STEPS) - 2))
def test_patch_read_wrong_is_named(gain, off, patch):
    dots = read(gain, [0.2 * (-1) ** step for step in range(len(STEPS))])
    dots[patch] = min(100.0, dots[patch] + off)
    curve = linearize(STEPS, dots)
    assert patch in curve.outliers
    assert len(curve.outliers) <= 2


def test_two_patches_read_wrong_are_both_named():
    dots = read(12)
    dots[3] += 9
    dots[8] -= 9
    assert linearize(STEPS, dots).outliers == (3, 8)


@pytest.mark.parametrize("power", [0.6, 1.6])
def test_sharp_bend_of_the_tone_is_no_outlier(power):
    tens = list(range(0, 101, 10))
    assert linearize(tens, [100 * (step / 100) ** power for step in tens]).outliers == ()


def test_few_steps_name_no_outlier():
    assert linearize([25, 50, 75], [38, 40, 86]).outliers == ()


def test_left_out_error_tells_the_step_that_the_others_do_not_expect():
    dots = read(0)
    dots[6] += 5
    curve = linearize(STEPS, dots)
    assert curve.left_out_errors[6] == pytest.approx(5.0)
    assert curve.residuals[6] == pytest.approx(0.0)
    assert curve.left_out_errors[0] == curve.left_out_errors[-1] == 0.0
    between = curve.left_out_errors[1:-1]
    assert curve.leave_one_out == pytest.approx(np.sqrt(np.mean(np.square(between))))


def test_repeats_of_a_step_are_left_out_together():
    curve = linearize([25, 50, 50, 75], [25, 60, 60, 75])
    assert curve.left_out_errors[1] == pytest.approx(10.0)


def test_single_step_is_judged_by_the_straight_line():
    assert linearize([50], [62]).leave_one_out == pytest.approx(12.0)


def test_table_has_a_line_for_each_step():
    curve = linearize(STEPS, read(15))
    table = curve.table(21)
    assert [nominal for nominal, _ in table] == [5.0 * line for line in range(21)]
    assert table[10].corrected == curve.correct(50)
    assert (table[0], table[-1]) == ((0.0, 0.0), (100.0, 100.0))
    assert curve.table(np.int64(21)) == table
    assert curve.table([50, 5]) == (table[10], table[1])
    assert curve.table(np.array([50.0])) == (table[10],)
    assert curve.table([]) == ()


@pytest.mark.parametrize("bad", [1, 0, -3, 2.5, 65_537, "21", None, [101], [float("nan")], True])
def test_table_of_nonsense_is_refused(bad):
    with pytest.raises(MeasureError, match=r"^steps"):
        linearize(STEPS, read(15)).table(bad)


@pytest.mark.parametrize("bad", [-0.1, 100.1, float("nan"), "50", None])
def test_tint_that_is_no_percent_is_refused(bad):
    curve = linearize(STEPS, read(15))
    for tone in (curve.predict, curve.correct):
        with pytest.raises(MeasureError, match=r"^x\[1\] is"):
            tone([50, bad])


@pytest.mark.parametrize(
    ("nominal", "measured", "message"),
    [
        ([0, 100], [0, 100], r"nominal has no patch between 0 and 100 percent"),
        ([], [], r"nominal has no patch between 0 and 100 percent"),
        ([25, 50], [38], r"measured has 1 numbers but nominal has 2"),
        ([25, 150], [38, 99], r"nominal\[1\] is 150.0 but must be at most 100 \(percent\)"),
        ([25, 50], [38, 250], r"measured\[1\] is 250.0 but must be at most 110"),
        ([25, 50, 75], [0.38, 0.66, 0.86], r"measured looks like fractions"),
        ([25, 50, 75], [86, 66, 38], r"measured does not rise with nominal"),
        ([25, 50, 75], [40, 40, 40], r"measured does not rise with nominal"),
        ([25, float("nan")], [38, 66], r"nominal\[1\] is nan, not a finite number"),
    ],
)
def test_wedge_that_cannot_be_used_is_refused(nominal, measured, message):
    with pytest.raises(MeasureError, match=message):
        linearize(nominal, measured)
