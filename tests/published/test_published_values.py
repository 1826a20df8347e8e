"""The measures give what standards, handbooks, papers and certified data sets print.

The values lie in data/*.yaml, one file a module of gatekeeper.measures; README.md says how they
are written. Every expected number becomes a test of its own.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml

DATA = Path(__file__).parent / "data"
FAMILIES = ("density", "distortion", "exposure", "regression", "screen", "uncertainty")
KNOWN = {"opened", "opened (transcription)", "from memory", "computed"}
KEYS = {"id", "function", "given", "fixed", "table", "expect", "tolerance", "source", "known"}


@dataclass(frozen=True)
class Value:
    """One expected number: the call that should give it, how near, and who says so."""

    label: str
    module: str
    function: str
    given: dict[str, Any]
    field: str | None
    expected: float
    tolerance: dict[str, Any]
    source: str
    known: str

    def measured(self) -> float:
        module = importlib.import_module(f"gatekeeper.measures.{self.module}")
        result = getattr(module, self.function)(**self.given)
        return result if self.field is None else getattr(result, self.field)


def numbers_of(case: dict[str, Any]) -> list[tuple[str, dict[str, Any], str | None, float]]:
    """Name, arguments, field of the result and expected number of each value in a case."""
    if "table" in case:
        names = case["table"]["given"]
        return [
            (
                f"{case['id']}-{row[:-1]}",
                case.get("fixed", {}) | dict(zip(names, row[:-1], strict=True)),
                None,
                row[-1],
            )
            for row in case["table"]["rows"]
        ]
    if isinstance(case["expect"], dict):
        return [
            (f"{case['id']}-{field}", case["given"], field, number)
            for field, number in case["expect"].items()
        ]
    return [(case["id"], case["given"], None, case["expect"])]


def values_of(family: str) -> list[Value]:
    document = yaml.safe_load((DATA / f"{family}.yaml").read_text(encoding="utf-8"))
    assert set(document) == {"module", "cases"}, family
    found = []
    for case in document["cases"]:
        assert set(case) <= KEYS, case["id"]
        found += [
            Value(
                label=f"{family}-{label}",
                module=document["module"],
                function=case["function"],
                given=given,
                field=field,
                expected=number,
                tolerance=case["tolerance"],
                source=case["source"],
                known=case["known"],
            )
            for label, given, field, number in numbers_of(case)
        ]
    return found


VALUES = [value for family in FAMILIES for value in values_of(family)]
OUTSIDE = [value for value in VALUES if value.known != "computed"]


@pytest.mark.parametrize("value", VALUES, ids=lambda value: value.label)
def test_measure_gives_the_published_value(value):
    measured = value.measured()
    if value.tolerance.get("at_least"):
        assert measured >= value.expected, value.source
    elif value.tolerance.get("at_most"):
        assert measured <= value.expected, value.source
    else:
        near = {"rel": 0.0, "abs": 0.0} | value.tolerance
        assert measured == pytest.approx(value.expected, **near), value.source


@pytest.mark.parametrize("value", VALUES, ids=lambda value: value.label)
def test_value_says_where_it_is_from_and_how_near_it_is_meant(value):
    assert len(value.source) > 10
    assert value.known in KNOWN
    assert len(value.tolerance) == 1
    assert set(value.tolerance) <= {"rel", "abs", "at_least", "at_most"}
    assert all(value.tolerance.values())


def test_no_value_is_given_twice():
    labels = [value.label for value in VALUES]
    assert sorted(set(labels)) == sorted(labels)


def test_outside_values_are_many_and_from_many_publications():
    assert len(OUTSIDE) >= 90
    assert len({value.source.split(",")[0] for value in OUTSIDE}) >= 20


def test_no_family_rests_on_computed_values_alone():
    assert {value.module for value in OUTSIDE} == set(FAMILIES)
