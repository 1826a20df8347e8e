"""No accident to a file makes a held sheet pass: reader, sheet and judge under the example rules.

The claim   a sheet that the rules hold is never approved after accidents to anything but the
            characters that the verdict rests on: readings, the film's lot and dates, the ruling,
            the customer. A lost weak spot leaves too few spots, a lost tint is asked for.
Not claimed a changed digit of a reading may rightly make a good one of a weak one. What only one
            line of the file says and no rule requires is gone with that line: the customer whose
            limits are tighter, a workflow that is not the drop folder's, how many separations there
            are, a spot beyond those that are required. `required` is the remedy, and is tried here
            with the customer. A line of a meter's plain text that fits no pattern of its profile is
            left unread, and the report says how many; so a reading beyond those required may go.
"""

from __future__ import annotations

import random
from datetime import datetime
from functools import cache, partial
from pathlib import Path

import pytest
from accidents import accident, pieces_of, workbook_accident
from twins import TEXTS, TWINS, WORKBOOKS, typed_lines

from gatekeeper.case import Case, JobSheet
from gatekeeper.errors import UnreadableSheetError
from gatekeeper.judge import judge
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import RawFile
from gatekeeper.readers.profile import load_profile
from gatekeeper.room import YAML_FOLDERS, book_of, declarations_of
from gatekeeper.rules.files import read_yaml_files
from gatekeeper.sheet import Problem
from gatekeeper.site import read_site
from gatekeeper.verdict import Decision, Outcome

CONFIG = Path(__file__).parents[3] / "config"
ARRIVED = datetime(2026, 11, 20, 10, 7)  # noqa: DTZ001 -- the room's zone is put to it
PAIRS = [
    (form, twin)
    for form in TEXTS
    for twin in TWINS
    if TWINS[twin].rule and (form, twin) != ("meter dump", "weak fourth spot")
]  # 76: 2,052 texts in the usual run, 21,280 in the nightly one
TICKET = "20261120T100700.000000Z-0"
LIQUID = "workflows/liquid-plate.yaml"
HELD = [name for name, twin in TWINS.items() if twin.rule]

DUMP = """profile: bench-dump
format: text
recognise: {first_line: '^METER LOG'}
decimal_mark: point
lines:
  - '^job: (?P<job>.+)$'
  - '^customer: (?P<customer>.+)$'
  - '^workflow: (?P<workflow>.+)$'
  - '^separation: (?P<separation>.+)$'
  - '^printer: (?P<printer>.+)$'
  - '^film lot: (?P<film_lot>.+)$'
  - '^meter: (?P<meter>.+)$'
  - '^operator: (?P<operator>.+)$'
  - '^printed: (?P<printed>.+)$'
  - '^measured: (?P<measured>.+)$'
  - '^zeroed on: (?P<zeroed_on>.+)$'
  - '^ruling: (?P<ruling>.+)$'
  - '^resolution: (?P<resolution>.+)$'
  - '^(?P<patch>\\w+) D=(?P<density>\\S+) (?P<where>\\w+)$'
  - '^(?P<patch>\\w+) (?P<nominal>[0-9]+) A=(?P<dot>\\S+) (?P<where>\\w+)$'
"""


@cache
def room(*, needs_customer):
    """Return book, declarations and time zone of the example site, and a profile more."""
    site = read_site(CONFIG)
    files = read_yaml_files(site.root, YAML_FOLDERS)
    if needs_customer:
        rules = files[LIQUID]
        files[LIQUID] = rules.replace(b"required: [job,", b"required: [job, customer,")
        assert files[LIQUID] != rules
    book = book_of(site, files)
    profiles = (*book.profiles, load_profile(DUMP.encode(), "readers/bench-dump.yaml"))
    return book, declarations_of(site, profiles), site.time_zone


def verdict_on(content, name, *, needs_customer=False):
    """Return what the gate would decide on a file that is dropped for liquid plates."""
    book, declarations, zone = room(needs_customer=needs_customer)
    sheet, problem = None, None
    try:
        sheet = read_sheet(RawFile(name, content), declarations)
    except UnreadableSheetError as refused:
        problem = Problem(refused.what, refused.do)
    named = [film.job.value for film in sheet.negatives if film.job] if sheet else []
    case = Case(
        ticket=TICKET,
        job=named[0] if named else "1041",
        workflow="liquid-plate",
        sheets=(JobSheet(name, "0" * 64, TICKET, sheet, problem),),
        arrived=ARRIVED.replace(tzinfo=zone),
        time_zone=zone,
    )
    return judge(case, book.library, book.register).verdict


def try_out(make, twin, times, chance):
    """Judge mutants of a held twin; the first that is approved is shown and fails."""
    for number in range(times):
        content, name = make(chance=chance)
        verdict = verdict_on(content, name, needs_customer=TWINS[twin].needs_customer)
        assert verdict.decision is Decision.HELD, f"{twin}, {name}, {number}:\n{content!r}"
        assert any(finding.outcome is not Outcome.PASS for finding in verdict.findings)


def chance_of(seed):
    return random.Random(seed)  # noqa: S311 -- the same accidents every time


def text_of(form, twin):
    draft = TEXTS[form](TWINS[twin])
    return b"".join(pieces_of(draft.text, draft.encoding)), draft.name


@pytest.mark.parametrize("form", [*TEXTS, *WORKBOOKS])
@pytest.mark.parametrize("twin", TWINS)
def test_twin_without_accidents_is_held_by_its_own_rule_and_the_sound_one_approved(form, twin):
    if form in TEXTS:
        content, name = text_of(form, twin)
    else:
        content, name = WORKBOOKS[form](typed_lines(TWINS[twin])), f"1041.{form}"
    verdict = verdict_on(content, name, needs_customer=TWINS[twin].needs_customer)
    holding = {f.rule for f in verdict.findings if f.outcome in {Outcome.HOLD, Outcome.NOT_JUDGED}}
    if TWINS[twin].rule:
        assert TWINS[twin].rule in holding
    else:
        assert (verdict.decision, holding) == (Decision.APPROVED, set())


@pytest.mark.parametrize(("form", "twin"), PAIRS)
def test_no_accident_to_a_text_lets_a_held_sheet_pass(form, twin):
    draft = TEXTS[form](TWINS[twin])
    chance = chance_of(f"{form} {twin}")
    made = partial(accident, draft, most=TWINS[twin].lines)
    try_out(made, twin, 27, chance)


@pytest.mark.parametrize("twin", HELD)
@pytest.mark.parametrize("form", WORKBOOKS)
def test_no_accident_to_a_workbook_lets_a_held_sheet_pass(form, twin):
    chance = chance_of(f"{form} {twin}")
    try_out(partial(workbook_accident, TWINS[twin], form), twin, 4, chance)


@pytest.mark.nightly
@pytest.mark.timeout(1800)
@pytest.mark.parametrize(("form", "twin"), PAIRS)
def test_no_accident_of_many_to_a_text_lets_a_held_sheet_pass(form, twin):
    draft = TEXTS[form](TWINS[twin])
    chance = chance_of(f"nightly {form} {twin}")
    made = partial(accident, draft, most=TWINS[twin].lines)
    try_out(made, twin, 280, chance)


@pytest.mark.nightly
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("twin", HELD)
@pytest.mark.parametrize("form", WORKBOOKS)
def test_no_accident_of_many_to_a_workbook_lets_a_held_sheet_pass(form, twin):
    chance = chance_of(f"nightly {form} {twin}")
    try_out(partial(workbook_accident, TWINS[twin], form), twin, 60, chance)
