from dataclasses import replace

import pytest
from wedge_bench import WITH_TABLE, holding, rows, tone, typed, wedge

from gatekeeper.control.curve import build, together
from gatekeeper.control.curve_document import NotACurveError, curve_bytes, read_curve
from gatekeeper.control.curve_table import Correction, as_typed
from gatekeeper.control.curve_text import as_cgats, as_csv, as_typed_text
from gatekeeper.control.tone_facts import tone_facts
from gatekeeper.readers.cgats import parse


def built(text=None, **options):
    found, _ = wedge(text, **options)
    return build(found)


def curve(text=None, **options):
    found, findings = built(text, **options)
    assert found, findings
    return found


def test_sent_through_the_curve_the_printer_reads_what_is_wanted():
    made = curve()
    table = Correction(made.steps)
    for wanted in (10, 25, 50, 75, 90):
        assert tone(table(wanted)) == pytest.approx(wanted, abs=0.3)
    assert made.predicted_mid_tone == pytest.approx(50.0, abs=0.1)
    assert (made.steps[0], made.steps[-1]) == (0.0, 100.0)


def test_a_wedge_printed_through_the_curve_in_use_gives_the_same_curve():
    table = Correction(tuple(map(float, wedge(known=WITH_TABLE)[0].in_use.steps)))
    through = curve(typed(rows(through=table), curve="old"), known=WITH_TABLE)
    without = curve(known=WITH_TABLE)
    assert through.through == "old"
    assert through.steps == pytest.approx(without.steps, abs=0.5)
    assert through.mid_tone == pytest.approx(tone(41.0), abs=0.2)


def test_a_patch_that_does_not_fit_is_named_and_set_aside():
    made, findings = built(typed(rows(tint_60=7.0)))
    (note,) = [finding for finding in findings if finding.rule == "wedge.outliers"]
    assert "60 %" in note.says
    assert [patch.nominal for patch in made.outliers] == [60.0]
    assert made.steps == pytest.approx(curve().steps, abs=0.4)
    assert made.outliers[0].left_out == pytest.approx(7.0, abs=0.6)


def test_a_wedge_whose_steps_contradict_each_other_makes_no_curve():
    noisy = rows(tint_10=4, tint_20=-5, tint_30=6, tint_40=-6, tint_50=6, tint_60=-6, tint_70=5)
    found, findings = built(typed(noisy))
    assert found is None
    assert holding(findings) == ["wedge.fit"]


def test_readings_that_fall_make_no_curve():
    upside_down = ["solid,,2.90,", *(f"tint,{step},,{100 - step}" for step in (10, 30, 50, 70, 90))]
    found, findings = built(typed(upside_down))
    assert found is None
    assert "does not rise" in findings[0].says


def test_the_stated_error_is_never_better_than_a_reading_repeats():
    assert curve().leave_one_out < 0.3
    assert curve().error == pytest.approx(1.0, abs=0.2)


def test_curve_keeps_the_day_of_its_wedge_in_its_name():
    made = curve()
    assert made.name == "P1 matte-5mil plate 2026-11-23"
    assert made.made == "2026-11-23"


def test_several_wedges_of_one_printer_are_one():
    first, second = wedge()[0], wedge(typed(rows(gain=9.4)))[0]
    one = together([first, second])
    assert len(one.patches) == len(first.patches) + len(second.patches)
    made, _ = build(one)
    assert tone(Correction(made.steps)(50.0), 9.2) == pytest.approx(50.0, abs=0.2)


@pytest.mark.parametrize(
    ("change", "what"),
    [({"printer": "P2"}, "printer"), ({"stock": "x"}, "stock"), ({"through": "old"}, "through")],
)
def test_wedges_of_different_kinds_are_not_put_together(change, what):
    first = wedge()[0]
    with pytest.raises(ValueError, match=what):
        together([first, replace(first, **change)])


def test_a_document_reads_back_equal():
    made = replace(curve(typed(rows(tint_60=7.0))), sources=("a" * 64,))
    again = read_curve(curve_bytes(made))
    assert curve_bytes(again) == curve_bytes(made)
    assert again.steps == made.steps
    assert again.sources == made.sources


@pytest.mark.parametrize(
    "damage",
    [
        lambda data: data[: len(data) // 2],
        lambda _: b"",
        lambda _: b"[]",
        lambda _: b"{}",
        lambda data: data.replace(b'"version": 1', b'"version": 2'),
        lambda data: data.replace(b'"printer"', b'"press"'),
        lambda data: data.replace(b'"format": "gatekeeper curve"', b'"format": "another"'),
        lambda data: data.replace(b'"steps": [', b'"steps": ["x",'),
    ],
)
def test_a_damaged_document_is_refused(damage):
    data = curve_bytes(curve())
    assert damage(data) != data
    with pytest.raises(NotACurveError):
        read_curve(damage(data))


def test_cgats_table_is_read_by_a_reader_of_the_standard():
    made = replace(curve(), name='P1 "best" plate')
    parsed = parse(as_cgats(made), max_rows=100, max_columns=20)
    (table,) = parsed.tables
    assert list(table.fields) == ["SAMPLE_ID", "WANTED", "SEND", "PREDICTED"]
    assert [cell.text for cell in table.rows[10]] == ["11", "50", f"{made.steps[10]:.1f}", "50.0"]
    header = {entry.keyword: entry.value for entry in table.header}
    assert header["CURVE"] == 'P1 "best" plate'
    assert len(table.rows) == 21


def test_csv_has_a_row_of_names_and_the_curve_in_use():
    lines = as_csv(curve(known=WITH_TABLE)).splitlines()
    assert lines[0] == "wanted,send,now,predicted"
    assert lines[11].split(",")[:3] == ["50", f"{curve().steps[10]:.1f}", "41.0"]
    assert as_csv(curve()).splitlines()[11].split(",")[2] == ""


def test_text_to_type_from_is_two_columns():
    lines = as_typed_text(curve()).splitlines()
    assert lines[0] == "P1 matte-5mil plate 2026-11-23"
    assert lines[3:5] == ["     0     0.0", "     5     3.7"]


def test_facts_for_a_chart_hold_old_and_new_side_by_side():
    facts = tone_facts(curve(typed(rows(tint_60=7.0)), known=WITH_TABLE), "candidate")
    assert facts.steps[10].wanted == 50.0
    assert facts.steps[10].now == 41.0
    assert facts.steps[10].new == pytest.approx(41.0, abs=0.3)
    assert [reading.is_outlier for reading in facts.readings].count(True) == 1
    assert tone_facts(curve(), "candidate").steps[10].now is None


def test_typed_steps_have_one_decimal_and_no_negative_zero():
    assert as_typed([-0.0, 3.14159, 99.96]) == (0.0, 3.1, 100.0)
    assert str(as_typed([-0.01])[0]) == "0.0"
