"""Contrast of every pair of colours that a screen may show."""

import pytest

from gatekeeper.show.palette import DARK, PAPER, shape_pairs, text_pairs

LEAST_FOR_TEXT = 7.0  # WCAG 2.2, success criterion 1.4.6, level AAA
LEAST_FOR_SHAPES = 3.0  # WCAG 2.2, success criterion 1.4.11


def luminance(colour):
    """Relative luminance of an sRGB colour, WCAG 2.2, definition of relative luminance."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return sum(share * c for share, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    """Contrast ratio, WCAG 2.2: (L1 + 0.05) / (L2 + 0.05)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#000000", "#ffffff", 21.0),  # WCAG 2.2: ratios range from 1 to 21
        ("#ffffff", "#ffffff", 1.0),
        ("#767676", "#ffffff", 4.54),  # the lightest grey that passes 4.5 on white (from memory)
        ("#595959", "#ffffff", 7.0),  # and the lightest that passes 7, likewise
    ],
)
def test_the_ratio_is_the_published_one(one, other, ratio):
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("palette", [DARK, PAPER])
def test_all_text_reaches_the_highest_level(palette):
    for letters, ground in text_pairs(palette):
        if letters != ground:
            assert contrast(letters, ground) >= LEAST_FOR_TEXT, (letters, ground)


@pytest.mark.parametrize("palette", [DARK, PAPER])
def test_shapes_stand_out_from_their_ground(palette):
    for shape, ground in shape_pairs(palette):
        assert contrast(shape, ground) >= LEAST_FOR_SHAPES, (shape, ground)


def test_nothing_is_blue():
    colours = [getattr(DARK, name) for name in DARK.__slots__]
    for colour in colours:
        red, _, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
        assert blue < red, colour


def test_held_alarm_and_passed_differ_in_more_than_hue_from_the_ground_only():
    # Under safelight hue is gone: what tells them apart there is their word and shape, never this.
    assert len({DARK.held, DARK.alarm, DARK.passed, DARK.text}) == 4
