"""What to do next: every step is sound by itself, and every risky one carries its caution."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from gatekeeper.checks import advice, job
from gatekeeper.checks.advice import ALL_STEPS
from gatekeeper.checks.registry import CHECKS
from gatekeeper.rules.models import Limits

PACKAGE = Path(advice.__file__).parent
STEPS = {name: value for name, value in vars(advice).items() if value in ALL_STEPS}

RISKS = {
    # what a step makes hands do → what its caution must speak of
    r"\bclean (the|with|both)|\bclean the head|^clean": ["ventilate", "gloves", "flames", "safety"],
    r"\bopaqu|spot out": ["ventilate", "flame", "safety data sheet"],
    r"\bexpose|step test|\blamp\b": ["UV lamps", "eyes and skin", "sensitise", "safety data sheet"],
    r"\bload film|\bcut\b|\btrim": ["blades", "cut away from the hand"],
}


def risks_of(step):
    return [
        words for pattern, words in RISKS.items() if re.search(pattern, step.says, re.IGNORECASE)
    ]


@pytest.mark.parametrize("name", STEPS)
def test_step_is_one_or_two_whole_sentences_in_the_imperative(name):
    step = STEPS[name]
    assert step.says[0].isupper()
    assert step.says.endswith(".")
    assert not step.caution.endswith(".")
    assert 0 < step.order < 100


@pytest.mark.parametrize("name", STEPS)
def test_risky_step_carries_its_cautions(name):
    step = STEPS[name]
    for words in risks_of(step):
        for word in words:
            assert word in step.caution, f"{step.says} needs a caution about {word}"


def test_the_risks_of_the_plate_room_are_all_met_by_some_step():
    assert all(
        any(re.search(pattern, step.says, re.IGNORECASE) for step in ALL_STEPS) for pattern in RISKS
    )
    assert len([step for step in ALL_STEPS if step.caution]) >= 6


def test_every_caution_defers_to_sheet_code_or_licence_where_chemistry_or_lamps_are_in_play():
    for step in ALL_STEPS:
        if step.caution and "blades" not in step.caution:
            assert re.search(r"safety data sheet|licensed practice", step.caution), step.says


def test_no_two_steps_say_the_same():
    sentences = [step.says for step in ALL_STEPS]
    assert len(set(sentences)) == len(sentences)


def test_steps_come_in_the_order_of_the_bench():
    """Read again before printing again, printing before calling, and the lead before last."""
    in_order = ["CHECK_SHEET", "CLEAN", "ZERO_CLEAR", "MEASURE_AGAIN", "CALIBRATE", "FRESH_FILM",
                "REPRINT", "WEDGE", "NO_PLATE", "CALL_LEAD"]  # fmt: skip
    orders = [STEPS[name].order for name in in_order]
    assert orders == sorted(orders)


def names_used_in(path):
    return {
        node.id
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Name)
    }


@pytest.mark.parametrize("name", STEPS)
def test_every_step_is_given_by_some_check(name):
    modules = [path for path in PACKAGE.glob("*.py") if path.name != "advice.py"]
    elsewhere = (
        path for room in ("control", "slips") for path in PACKAGE.parent.glob(f"{room}/*.py")
    )
    assert any(name in names_used_in(path) for path in (*modules, *elsewhere))


@pytest.mark.parametrize("check", [*CHECKS, job], ids=lambda check: check.__name__)
def test_every_check_explains_itself(check):
    page = check.__doc__
    assert re.match(r"[A-Z][^\n]*\.\n\nWhy {4}", page)
    for part in ("\nKeys   ", "\nSource ", "\nPass   ", "\nHeld   "):
        assert part in page, part


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.NAME)
def test_page_of_a_check_names_every_key_of_its_section(check):
    section = Limits.model_fields[check.NAME].annotation
    blocks = [part for part in section.__args__ if hasattr(part, "model_fields")]
    for block in blocks:  # none for lists, which have no keys of their own
        for key in block.model_fields:
            assert re.search(rf"\b{key}\b", check.__doc__), key
