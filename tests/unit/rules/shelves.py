"""Rule files as an administrator writes them, and the library they make."""

from gatekeeper.register.register import read_register
from gatekeeper.rules.files import built_in_defaults
from gatekeeper.rules.library import Library
from gatekeeper.yamlfiles.load import load

LIQUID = """\
workflow: liquid-plate
title: Liquid photopolymer
reading: negative
required: [job, meter]
solid_density: {min: 2.70, spread: 0.20}
clear_density: {max: 0.10}
tints:
  - {nominal: 50, tolerance: 2.0}
film: {stocks: [matte-5mil, matte-8mil]}
screen:
  ruling_lpi: {min: 20, max: 115}
  resolution_dpi: [720, 1440]
"""
STENCIL = "workflow: stencil\nreading: positive\nsolid_density: {min: 3.00}\n"
QUILLMARK = """\
customer: Quillmark Cartons
all_workflows:
  tints:
    - {nominal: 50.0, tolerance: 1.5}
workflows:
  liquid-plate:
    solid_density: {min: 2.85}
"""
FLOORS = """\
solid_density: {min: 2.50}
tints:
  - {nominal: 50, tolerance: 3.0}
"""
REGISTER = """\
stocks:
  matte-5mil: {kind: ink film}
  matte-8mil: {kind: ink film}
printers:
  P1: {resolution_dpi: [720, 1440]}
meters:
  T-04: {calibrated: 2026-09-01, filter: visual}
"""

SITE = {
    "workflows/liquid-plate.yaml": LIQUID,
    "workflows/stencil.yaml": STENCIL,
    "customers/quillmark.yaml": QUILLMARK,
}


def library(files=None, *, floors=None, last_good=None, register=None, **more):
    """Return the library of the site's files with these over them; None takes a file away."""
    always, where_used = built_in_defaults()
    owned, problems = read_register({"register/all.yaml": (register or "").encode()})
    assert not problems or not register
    return Library(
        _as_bytes({**SITE, **(files or {})}),
        always=always,
        where_used=where_used,
        floors=load(floors.encode(), "site.yaml") if floors else None,
        last_good=None if last_good is None else _as_bytes(last_good),
        register=owned if register else None,
        **more,
    )


def _as_bytes(files):
    texts = {name: content for name, content in files.items() if content is not None}
    return {
        name: content.encode() if isinstance(content, str) else content
        for name, content in texts.items()
    }


def values(rules):
    """Return the limits as rule: value."""
    return {limit.rule: limit.value for limit in rules.limits}


def told(problems):
    """Return problems as place and name."""
    return [f"{problem.place} {problem.name}" for problem in problems]
