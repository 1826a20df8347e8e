import pytest

from gatekeeper.readers.interface import Declarations
from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.readers.values import ValueReader, words_of
from gatekeeper.sheet import FIELDS, NOWHERE, Bound, SheetKind, ZeroedOn

VALUES = ValueReader.for_site(Declarations())


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("ruling", "65 lpi", 65),
        ("ruling", "25 l/cm", 63.5),  # 1 in = 2.54 cm, exact by definition
        ("ruling", "25 L/cm", 63.5),
        ("ruling", "25 lpcm", 63.5),
        ("resolution", "1440 dpi", 1440),
        ("resolution", "1,440.0 dpi", 1440),
        ("resolution", "500 d/cm", 1270),
        ("plate thickness", "1.7 mm", 1.7),
        ("plate thickness", "0.067 in", 1.7018),  # 1 in = 25.4 mm, exact by definition
        ("plate base", "5 mil", 0.127),
        ("plate base", "127 µm", 0.127),
        ("repeat", '24"', 609.6),
        ("repeat", "60.96 cm", 609.6),
        ("shrink", "1.5 %", 1.5),
        ("shrink", "1,5", 1.5),
        ("humidity", "48 %", 48),
        ("temperature", "21 °C", 21),
        ("temperature", "68 F", 20),  # fixed points: 32 F = 0 °C, 212 F = 100 °C
        ("temperature", "212 °F", 100),
        ("smallest type", "6 pt", 6),
        ("smallest type", "6", 6),
        ("separations", "4", 4),
    ],
)
def test_units_come_out_in_the_unit_of_the_field(name, text, value):
    number = VALUES.field(name, text, NOWHERE)
    assert number.value == pytest.approx(value, rel=1e-12)
    assert number.written == text


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("ruling", "65", "it may be 65 lpi or 65 l/cm"),
        ("resolution", "1440", "it may be 1440 dpi or 1440 d/cm"),
        ("repeat", "600", "it may be 600 mm or 600 in"),
        ("ruling", "65 dpi", '"dpi" is no unit of a ruling'),
        ("ruling", "-65 lpi", "no possible ruling"),
        ("resolution", "1440x720 dpi", "is not a number"),
        ("humidity", "148 %", "no possible humidity"),
        ("separations", "2.5", "not a whole number"),
        ("separations", "> 2", "is a limit"),
        ("separations", "0", "no possible separations"),
        ("zeroed on", "cleer", 'nearest known one is "clear"'),
        ("sheet", "negativ", 'nearest known one is "negative"'),
        ("job", "10\u202e41", "U+202E"),
        ("job", "10\u200b41", "U+200B"),
    ],
)
def test_a_field_that_cannot_be_used_says_why(name, text, says):
    with pytest.raises(RefusedValueError) as refused:
        VALUES.field(name, text, NOWHERE)
    assert says in refused.value.says


@pytest.mark.parametrize(
    ("attribute", "text", "value"),
    [
        ("density", "2.91", 2.91),
        ("density", "2.91 D", 2.91),
        ("dot", "50.8 %", 50.8),
        ("transmittance", "0.12%", 0.12),
        ("length", "598.93", 598.93),
        ("length", "23.58 in", 598.932),
    ],
)
def test_readings_take_their_own_units(attribute, text, value):
    assert VALUES.reading(attribute, text, NOWHERE).value == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("attribute", "text"),
    [
        ("density", "50.8 %"),
        ("density", "10.1"),
        ("density", "-1.5"),
        ("dot", "121"),
        ("dot", "-21"),
        ("dot", "2.91 D"),
        ("transmittance", "-1"),
        ("length", "-5"),
        ("length", "0"),
    ],
)
def test_a_reading_outside_the_physical_world_or_in_a_wrong_unit_is_refused(attribute, text):
    with pytest.raises(RefusedValueError):
        VALUES.reading(attribute, text, NOWHERE)


@pytest.mark.parametrize(("attribute", "text"), [("density", "10"), ("dot", "-20")])
def test_the_ends_of_the_physical_world_are_still_inside(attribute, text):
    assert VALUES.reading(attribute, text, NOWHERE).value == float(text)


def test_a_reading_may_be_a_bound_and_keeps_it():
    assert VALUES.reading("density", "> 4.5", NOWHERE).bound is Bound.AT_LEAST


def test_a_nominal_length_may_have_a_unit_and_is_millimetres_without():
    assert VALUES.nominal("600", NOWHERE, of_length=True).value == 600
    assert VALUES.nominal("24 in", NOWHERE, of_length=True).value == pytest.approx(609.6)


@pytest.mark.parametrize("text", ["101", "-1", "> 50", "50 lpi"])
def test_a_nominal_tint_outside_0_to_100_percent_is_refused(text):
    with pytest.raises(RefusedValueError):
        VALUES.nominal(text, NOWHERE, of_length=False)


def test_words_lose_outer_blanks_and_keep_one_unicode_form():
    assert words_of("  Mu\u0308ller\u00a0&  Sohn ") == "Müller & Sohn"


def test_choices_are_read_without_case():
    assert VALUES.field("zeroed on", "Air", NOWHERE) is ZeroedOn.AIR
    assert VALUES.field("sheet", "Meter_Check", NOWHERE) is SheetKind.METER_CHECK


@pytest.mark.parametrize("name", FIELDS)
def test_every_field_of_the_contract_can_be_read(name):
    texts = ["65 lpi", "1440 dpi", "600 mm", "5 mil", "2026-11-20", "5", "clear", "wedge"]
    read = 0
    for text in texts:
        try:
            VALUES.field(name, text, NOWHERE)
            read += 1
        except RefusedValueError:
            continue
    assert read
