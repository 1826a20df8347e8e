"""Each public measure says its units, shapes, errors and source, and its example holds."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil

import pytest

import gatekeeper.measures
from gatekeeper.measures import (
    capability,
    crossed,
    cumulative,
    density,
    distortion,
    distributions,
    exposure,
    film,
    forecast,
    monotone,
    regression,
    robust_line,
    run_tests,
    screen,
    shewhart,
    study,
    tolerance,
    tone,
    uncertainty,
)

MODULES = [
    importlib.import_module(f"gatekeeper.measures.{found.name}")
    for found in pkgutil.iter_modules(gatekeeper.measures.__path__)
]
SUBJECTS = [
    capability, crossed, cumulative, density, distortion, distributions, exposure, film, forecast,
    monotone, regression, robust_line, run_tests, screen, shewhart, study, tolerance, tone,
    uncertainty,
]  # fmt: skip
FUNCTIONS = [
    thing
    for module in SUBJECTS
    for name, thing in vars(module).items()
    if inspect.isfunction(thing)
    and thing.__module__ == module.__name__
    and not name.startswith("_")
]


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__.rpartition(".")[2])
def test_examples_of_the_docstrings_hold(module):
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize("module", SUBJECTS, ids=lambda module: module.__name__.rpartition(".")[2])
def test_module_header_has_units_shapes_sources_and_errors(module):
    for heading in ("Units ", "Shapes ", "Sources ", "Errors "):
        assert f"\n{heading}" in module.__doc__


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda function: function.__name__)
def test_docstring_has_every_section(function):
    text = inspect.getdoc(function)
    for section in ("Parameters", "Returns", "Raises", "Notes", "Examples"):
        assert f"\n{section}\n---" in text
    for name in inspect.signature(function).parameters:
        assert name in text
