"""Limits that are too tight for the meters of the room."""

from __future__ import annotations

import math

import pytest
from bench import library, register

from gatekeeper.checks.capability import tight_limits
from gatekeeper.rules.files import built_in_defaults
from gatekeeper.rules.library import Library

METERS = """
meters:
  T-04: {calibrated: 2026-09-01, uncertainty: 0.02, filter: visual}
  T-09: {calibrated: 2026-09-01, uncertainty: 0.02}
  T-07: {calibrated: 2026-09-01, uncertainty: 0.005, filter: UV}
  T-00: {calibrated: 2026-09-01, filter: visual}
"""


def warnings(rules, meters=METERS, customers=()):
    return tight_limits(library(rules, customers), register(meters))


def test_half_tint_within_two_points_is_too_tight_for_a_usual_meter():
    """±0.02 is ±2.3 points at 50 %, so 4 points from end to end are an index of 0.87."""
    (warning,) = warnings("tints: [{nominal: 50, tolerance: 2.0}]")
    assert warning.name == "tight-for-the-meter"
    assert str(warning.place) == "workflows/plate.yaml:3"
    assert warning.what == (
        "tints.50.tolerance 2 percent is too tight: "
        "as a capability index ±0.02 (T-04, T-09) gives 0.87"
    )


@pytest.mark.parametrize(
    ("rules", "index"),
    [
        ("tints: [{nominal: 50, tolerance: 2.4}]", None),
        ("tints: [{nominal: 5, tolerance: 1.0}]", None),
        ("reading: positive\ntints: [{nominal: 5, tolerance: 1.0}]", 2.0 / (4 * 2.187)),
        ("solid_density: {min: 2.70, max: 2.73}", 0.03 / 0.04),
        ("solid_density: {min: 2.70, max: 2.75}", None),
        ("solid_density: {min: 2.70}", None),
        ("solid_density: {min: 2.70, spread: 0.05}", 0.05 / (0.04 * math.sqrt(2))),
        ("solid_density: {min: 2.70, slope_max: 0.05}", 0.05 / (0.04 * math.sqrt(2))),
        ("clear_density: {max: 0.03}", 0.75),
        ("clear_density: {max: 0.10, base_max: 0.03}", 0.75),
        ("size: {tolerance_mm: 0.2}", None),
        ("size: {tolerance_mm: 0.2, uncertainty_mm: 0.4}", 0.5),
        ("size: {tolerance_mm: 0.2, uncertainty_mm: 0.1}", None),
        ("size: {register_mm: 0.2, uncertainty_mm: 0.4}", 0.5 / math.sqrt(2)),
        ("film: {max_age_days: 1}", None),
    ],
)
def test_index_is_the_width_of_the_limit_over_four_times_its_doubt(rules, index):
    found = warnings(rules)
    if index is None:
        assert found == ()
    else:
        (warning,) = found
        assert f"gives {index:.2f}" in warning.what


def test_meter_that_the_workflow_does_not_take_is_not_asked():
    rules = "tints: [{nominal: 50, tolerance: 2.0}]\nmeter: {filters: [UV]}"
    assert "(T-09)" in warnings(rules)[0].what
    named = METERS.replace("uncertainty: 0.02}", "uncertainty: 0.02, filter: blue}")
    assert warnings(rules, named) == ()


def test_room_whose_meters_nobody_knows_is_not_warned():
    assert warnings("tints: [{nominal: 50, tolerance: 0.1}]", "") == ()


def test_rules_that_are_broken_are_not_warned_of():
    always, where_used = built_in_defaults()
    files = {
        "workflows/plate.yaml": b"workflow: plate\nreading: negative\n"
        b"tints: [{nominal: 50, tolerance: 2.0}]\n",
        "customers/q.yaml": b"customer: Q\nall_workflows: {solid_density: {spread: 0.01}}\n",
    }
    broken = Library(files, always=always, where_used=where_used)
    assert broken.all_problems  # a spread without a minimum
    assert [warning.what.split()[0] for warning in tight_limits(broken, register(METERS))] == [
        "tints.50.tolerance"
    ]


def test_limit_is_warned_of_once_whoever_it_holds_for():
    customers = [f"customer: C{number}" for number in range(3)]
    rules = "tints: [{nominal: 50, tolerance: 2.0}]"
    assert len(warnings(rules, customers=customers)) == 1
    own = "customer: Q\nall_workflows: {tints: [{nominal: 50, tolerance: 1.0}]}"
    places = [str(warning.place) for warning in warnings(rules, customers=[own])]
    assert places == ["customers/0.yaml:2", "workflows/plate.yaml:3"]
