import pytest
from wedge_bench import (
    REGISTER,
    TABLE,
    WITH_TABLE,
    holding,
    judged,
    rows,
    tone,
    typed,
    wedge,
)

from gatekeeper.control.wedge import FEWEST_TINTS
from gatekeeper.verdict import Decision


def test_a_sound_wedge_says_what_it_is_for_and_what_was_read():
    found, findings = wedge()
    assert holding(findings) == []
    assert (found.workflow, found.printer, found.stock) == ("plate", "P1", "matte-5mil")
    assert (found.resolution_dpi, found.ruling_lpi) == (1440.0, 65.0)
    assert found.measured_at.isoformat() == "2026-11-23T16:20:00+00:00"
    assert [(patch.nominal, patch.measured) for patch in found.patches][5] == (50.0, 59.0)
    assert found.through == ""


def test_dots_are_computed_where_the_meter_gave_densities():
    # 10^-0.30 of the light passes: 50.12 % is clear, and over a solid of 2.90 that prints 50.06 %.
    lines = ["solid,,2.90,", *(f"tint,{step},0.30," for step in (10, 30, 50, 70, 90))]
    found, _ = wedge(typed(lines))
    assert found.patches[2].measured == pytest.approx(50.06, abs=0.005)


def test_the_workflow_of_the_sheet_outranks_the_drop_folder():
    assert wedge(typed(workflow="plate"), dropped_in="")[0].workflow == "plate"
    assert holding(wedge(dropped_in="")[1]) == ["wedge.names"]
    assert holding(wedge(dropped_in="unheard-of")[1]) == ["wedge.names"]


@pytest.mark.parametrize(
    ("changes", "rule", "says"),
    [
        ({"printer": None}, "wedge.names", "does not say which printer"),
        ({"printer": "P9"}, "wedge.names", 'printer "P9" is not in the register'),
        ({"film_lot": None}, "wedge.names", "does not say which film lot"),
        ({"film_lot": "M5-0371"}, "wedge.names", 'nearest known one is "M5-0317"'),
        ({"customer": "Quillmark Cartons"}, "wedge.no_job", "is it the sheet of a negative?"),
        ({"curve": None}, "wedge.through", "write `curve,none` or the name"),
        ({"curve": "new"}, "wedge.through", "no curve of this printer, film and workflow"),
        ({"curve": "old"}, "wedge.through", 'the table of the curve "old" is not on record'),
    ],
)
def test_what_a_curve_could_not_rest_on_is_held_with_its_reason(changes, rule, says):
    found, findings = wedge(typed(**changes))
    assert found is None
    assert holding(findings) == [rule]
    assert says in next(finding.says for finding in findings if finding.do)


def test_a_curve_of_another_printer_is_not_this_ones():
    found, findings = wedge(typed(printer="P2", curve="old"), known=WITH_TABLE)
    assert found is None
    assert holding(findings) == ["wedge.through"]


OF_65 = WITH_TABLE.replace("name: old", "name: old, resolution_dpi: 1440, ruling_lpi: 65")


def test_a_curve_of_another_ruling_is_not_this_wedges():
    assert wedge(typed(curve="old"), known=OF_65)[0].through == "old"
    found, findings = wedge(typed(curve="old", ruling="100 lpi"), known=OF_65)
    assert found is None
    (finding,) = (finding for finding in findings if finding.do)
    assert "workflow for 100 lpi at 1440 dpi is called" in finding.says
    assert finding.says.endswith("that one is for 65 lpi at 1440 dpi")
    silent = next(
        found for found in wedge(typed(curve="old", ruling=None), known=OF_65)[1] if found.do
    )
    assert silent.says.endswith("and the sheet does not say the ruling")
    assert wedge(typed(ruling="100 lpi"), known=OF_65)[0].in_use is None


@pytest.mark.parametrize(
    ("changes", "lacks"),
    [
        ({}, None),
        ({"ruling": None}, "the ruling of"),
        ({"ruling": None, "resolution": None}, "the ruling and resolution of"),
    ],
)
def test_a_wedge_without_ruling_or_resolution_makes_a_curve_for_all_and_says_so(changes, lacks):
    found, findings = wedge(typed(**changes))
    assert found is not None
    notes = [finding.says for finding in findings if finding.rule == "wedge.setting"]
    assert len(notes) == (lacks is not None)
    assert all(lacks in says for says in notes)


def test_too_few_different_tints_make_no_curve():
    few = rows(steps=(10, 10, 50, 90, 0, 100))
    found, findings = wedge(typed(few))
    assert found is None
    (finding,) = [entry for entry in findings if entry.do]
    assert (finding.rule, finding.measured, finding.limit) == ("wedge.patches", 3.0, FEWEST_TINTS)


def test_every_tint_that_cannot_be_used_is_named():
    lines = [*rows(), "tint,45,> 3.0,", "tint,55,0.3,"]
    without_solid = [line for line in lines if not line.startswith("solid")]
    found, findings = wedge(typed(without_solid))
    assert found is None
    assert holding(findings) == ["wedge.patches", "wedge.patches"]
    assert "the 45 % tint cannot be used" in next(entry.says for entry in findings if entry.do)


def test_a_wedge_printed_through_a_known_curve_carries_its_table():
    found, findings = wedge(typed(curve="OLD"), known=WITH_TABLE)
    assert holding(findings) == []
    assert found.through == "OLD"
    assert found.sent_by(50.0) == 41.0
    assert found.sent_by(7.5) == pytest.approx(6.0)


def test_the_curve_in_use_is_known_even_when_the_wedge_was_printed_without_it():
    found, _ = wedge(known=WITH_TABLE)
    assert found.sent_by is None
    assert list(found.in_use.steps) == TABLE
    assert wedge(known=REGISTER)[0].in_use is None


def test_a_sound_wedge_is_approved_on_its_own_shelf_and_says_what_it_will_do():
    verdict = judged(typed())
    assert verdict.decision is Decision.APPROVED
    assert (verdict.workflow, verdict.customer) == ("wedges", "")
    (status,) = verdict.status
    assert "the mid-tone reads 59.0 % without a curve, 50.0 ± 1.0 %" in status.says


def test_the_curve_in_use_tells_how_the_mid_tone_reads_now():
    expected = tone(41.0)
    (status,) = judged(typed(), known=WITH_TABLE).status
    assert f"the mid-tone reads {expected:.1f} % now" in status.says


@pytest.mark.parametrize(
    "text",
    [
        typed(customer="Quillmark Cartons"),
        typed(curve=None),
        typed(rows(tint_30=-40.0, tint_50=30.0, tint_70=-50.0)),
        typed([*rows(), "tint,45,abc,"]),
        typed(["solid,,2.90,", "tint,50,,58.7"]),
    ],
)
def test_an_unsound_wedge_is_held(text):
    assert judged(text).decision is Decision.HELD


def test_bytes_that_were_used_before_are_held():
    assert judged(typed(), used_for="another").decision is Decision.HELD
