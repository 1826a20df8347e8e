"""What each check looks at of a film: `rules try` shows it nothing else, and asks it but once."""

from __future__ import annotations

import json
import random
from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import pytest

from gatekeeper.checks.interface import Subject
from gatekeeper.checks.measured import measure
from gatekeeper.checks.registry import CHECKS
from gatekeeper.history.interface import FiledSheet, as_read
from gatekeeper.history.reread import PATCH, PastFilm
from gatekeeper.history.rows import negative_rows, reading_rows
from gatekeeper.room import YAML_FOLDERS, book_of
from gatekeeper.rules.edits import GUARDED
from gatekeeper.rules.files import read_yaml_files
from gatekeeper.sheet import (
    Bound,
    Moment,
    Negative,
    Number,
    Patch,
    PatchKind,
    Sheet,
    SheetKind,
    Text,
    ZeroedOn,
)
from gatekeeper.site import read_site
from gatekeeper.trying.looks import LOOKS, Days, Likeness
from gatekeeper.trying.registers import ASKING, RegisterEdit
from gatekeeper.verdict import Outcome

CONFIG = Path(__file__).parents[3] / "config"
LIQUID = "workflows/liquid-plate.yaml"
BARE = "workflow: liquid-plate\nreading: negative\n"
ALL = """
workflow: liquid-plate
reading: negative
required: [job, ruling, cleaned]
plausibility: {max_identical_spots: 2}
solid_density: {min: 2.70, max: 3.1, spots: 3, spread: 0.20, slope_max: 0.05}
clear_density: {max: 0.10, base_max: 0.06}
density_range: {min: 2.7}
tints: [{nominal: 50, tolerance: 2.0}]
dot: {max_disagreement: 1.0, spread_factor: 1.2}
tone_scale: {min_rise: 0.5, min_cell_dots: 2}
exposure: {floor_dose_mj_cm2: 12, main_exposure_mj_cm2: 1800, min_margin_stops: 1.8}
size: {tolerance_mm: 0.5, register_mm: 0.2, shrink_percent: 0}
film: {stocks: [matte-5mil], max_age_days: 365, max_open_days: 17}
linearization: {max_age_days: 9}
control: {hold_on: [mid-tone]}
meter: {max_calibration_days: 80, filters: [visual]}
screen: {ruling_lpi: {min: 20, max: 70}, resolution_dpi: [1440], min_grey_levels: 200}
inspection: {cleaned: ['yes'], emulsion: [down], min_type_pt: 6}
freshness: {max_days_after_printing: 1}
remeasuring: {sign_off_after: 2}
"""
DAY = datetime(2026, 11, 20, tzinfo=UTC)
HARMLESS = {Outcome.PASS, Outcome.NOTE}


@dataclass(frozen=True)
class Place:
    """The example room under some rules for one workflow."""

    rules: object
    register: object
    zone: object


@cache
def place(text, register=()):
    site = read_site(CONFIG)
    files = {**read_yaml_files(CONFIG, YAML_FOLDERS), LIQUID: text.encode()}
    for name, old, new in register:
        assert old in files[name].decode()
        files[name] = files[name].decode().replace(old, new).encode()
    book = book_of(site, files)
    return Place(book.library.effective("liquid-plate", ""), book.register, site.time_zone)


def guarded(text):
    return f"{text}decision: {{rule: guarded}}\n"


def drawn(luck):
    """Return a film; each thing it says has few values, so that films are alike in some of them."""

    def one(*values):
        return luck.choice(values)

    def text(*values):
        return Text(word) if (word := one(*values)) else None

    def number(*values):
        return None if (value := one(*values)) is None else Number(value, str(value))

    def moment(day):
        if luck.random() < 0.1:
            return None
        instant = DAY + timedelta(days=day, minutes=luck.randrange(60, 22 * 60))
        return Moment(instant, instant.isoformat(), luck.random() < 0.8)

    return Negative(
        job=text("7", "8"),
        separation=text("black", "cyan", ""),
        operator=text("JV", ""),
        printer=text("P1", "P2", "P7", ""),
        film_lot=text("M5-0317", "M5-0317", "M8-0288", "X-1", ""),
        meter=text("T-04", "T-04", "T-07", "T-9", ""),
        curve=text("", "", "spring"),
        film_made=moment(-500) if luck.random() < 0.2 else None,
        linearized=moment(one(-5, -20)) if luck.random() < 0.2 else None,
        printed=moment(one(0, 0, -17)),
        measured=moment(one(0, 1)),
        zeroed_on=one(ZeroedOn.CLEAR, ZeroedOn.CLEAR, ZeroedOn.AIR, None),
        filter=text("", "UV"),
        ruling_lpi=number(65.0, 85.0, None),
        resolution_dpi=number(1440.0, 720.0, 2400.0, None),
        plate_thickness_mm=number(None, None, 1.7),
        cleaned=text("yes", "no", ""),
        emulsion=text("down", "down", "up", ""),
        smallest_type_pt=number(6.0, 5.0, None),
        patches=tuple(patches(luck)),
    )


def patches(luck):
    def read(value, *, bounds=True):
        bound = luck.choice(list(Bound)) if bounds and luck.random() < 0.05 else Bound.EXACT
        return Number(value, str(value), bound=bound)

    for _ in range(luck.choice([0, 1, 1, 1, 2])):
        yield Patch(PatchKind.CLEAR, density=read(luck.choice([0.0, 0.0, 0.04])), where="left")
    for where in ("left", "centre", "right")[: luck.choice([0, 2, 3, 3, 3])]:
        value = luck.choice([2.71, 2.9, 2.9, 2.95])
        yield Patch(PatchKind.SOLID, density=read(value), where=luck.choice([where, where, ""]))
    for nominal in (50.0, 95.0)[: luck.choice([0, 1, 1, 2])]:
        dot = read(nominal + luck.choice([0.4, 1.9, -2.2]), bounds=False)
        density = read(luck.choice([0.29, 0.31])) if luck.random() < 0.3 else None
        yield Patch(PatchKind.TINT, Number(nominal, ""), density=density, dot_percent=dot)
    if luck.random() < 0.4:
        length = read(luck.choice([600.1, 600.9]))
        yield Patch(PatchKind.LENGTH, Number(600.0, ""), length_mm=length, where="across")


def recorded(negative):
    """Return the film as the history keeps it."""
    sheet = Sheet(SheetKind.NEGATIVE, (negative,))
    filed = FiledSheet("7.csv", sheet, as_read(sheet))
    (head,) = negative_rows("north", filed, "t001")
    rows = tuple(tuple(row[name] for name in PATCH) for row in reading_rows("north", filed))
    return PastFilm(json.loads(head["particulars"]), rows)


@cache
def films():
    luck = random.Random(7)  # noqa: S311 -- nothing is kept secret
    return [(recorded(drawn(luck)), DAY + timedelta(hours=luck.randrange(60))) for _ in range(400)]


def answers(check, where, film, arrived):
    """Return every outcome of a check by its rule, notes left out."""
    subject = Subject(measure(film.negative), where.rules, where.register, arrived, where.zone)
    found = [(finding.rule, finding.outcome) for finding in check.judge(subject)]
    return [entry for entry in found if entry[1] is not Outcome.NOTE]


@pytest.mark.parametrize("text", [ALL, guarded(ALL), BARE], ids=["plain", "guarded", "bare"])
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.NAME)
def test_films_alike_in_what_a_check_looks_at_are_answered_alike(check, text):
    if LOOKS[check.NAME].beyond >= {"arrived"}:
        return  # the moment counts to the minute, so that hardly two films are alike: never kept
    where = place(text)
    likeness = Likeness(check.NAME, where.rules, where.register, Days(where.zone))
    found = defaultdict(list)
    for film, arrived in films():
        alike = likeness.of(film, lambda arrived=arrived: arrived)
        told = answers(check, where, film, arrived)
        assert answers(check, where, likeness.bare(film), arrived) == told
        found[alike].append(told)
    assert len(found) < len(films())
    for told in found.values():
        assert all(entry == told[0] for entry in told)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.NAME)
def test_check_of_which_nothing_is_asked_holds_only_where_that_is_said(check):
    where = place(BARE)
    if where.rules.under(check.NAME):  # what is built in is always asked
        return
    told = [entry for film, arrived in films() for entry in answers(check, where, film, arrived)]
    assert LOOKS[check.NAME].holds_unasked or not told


FILMS, METERS = "register/films.yaml", "register/meters.yaml"
PRINTERS, CURVES = "register/printers.yaml", "register/curves.yaml"
REGISTERS = {
    "lot": (FILMS, "opened: 2026-11-02", "opened: 2026-10-02"),
    "stock of a lot": (FILMS, "M5-0317: {stock: matte-5mil", "M5-0317: {stock: clear-5mil"),
    "new lot": (FILMS, "  M5-0317:", "  X-1: {stock: matte-5mil}\n  M5-0317:"),
    "meter": (METERS, "calibrated: 2026-09-01", "calibrated: 2026-08-01"),
    "doubt": (METERS, "uncertainty: 0.02, filter: visual,", "filter: visual,"),
    "new meter": (METERS, "  T-06:", "  T-9: {calibrated: 2026-11-01}\n  T-06:"),
    "printer": (PRINTERS, "P1: {resolution_dpi: [360, 720, 1440]", "P1: {resolution_dpi: [360]"),
    "new printer": (PRINTERS, "  P2:", "  P7: {}\n  P2:"),
    "curve": (CURVES, "linearized: 2026-11-10}", "linearized: 2026-11-15}"),
    "name of a curve": (CURVES, "linearized: 2026-11-10}", "linearized: 2026-11-10, name: spring}"),
}


@pytest.mark.parametrize("text", [ALL, guarded(ALL)], ids=["plain", "guarded"])
@pytest.mark.parametrize("name", REGISTERS)
def test_check_that_the_edited_register_does_not_concern_answers_as_before(name, text):
    old, new = place(text), place(text, (REGISTERS[name],))
    edit = RegisterEdit(old.register, new.register)
    asking = edit.asking(old.rules)
    assert asking <= ASKING | GUARDED
    differing = 0
    for film, arrived in films()[:120]:
        concerned = edit.concerns("liquid-plate", film.head) & asking
        for check in CHECKS:
            is_same = answers(check, old, film, arrived) == answers(check, new, film, arrived)
            assert is_same or check.NAME in concerned
            differing += not is_same
    assert differing or (name, text) == ("doubt", ALL)


def test_doubt_decides_nothing_where_the_rules_compare_plainly():
    where = place(ALL)
    edit = RegisterEdit(where.register, where.register)
    register, _ = edit.pair(where.rules)
    assert all(meter.uncertainty is None for meter in register.meters.values())
    for film, arrived in films()[:100]:
        for check in CHECKS:
            told = answers(check, replace(where, register=register), film, arrived)
            assert told == answers(check, where, film, arrived)


@pytest.mark.parametrize("text", [ALL, guarded(ALL)], ids=["plain", "guarded"])
def test_films_are_told_apart_by_the_doubt_of_their_meters_where_decisions_are_guarded(text):
    where = place(text)
    film, arrived = films()[0]
    head = {name: words for name, words in film.head.items() if name != "filter"}
    good, worse = (PastFilm({**head, "meter": name}, film.patches) for name in ("T-04", "T-07"))
    for check in GUARDED - {"exposure"}:  # it names the meter's filter
        likeness = Likeness(check, where.rules, where.register, Days(where.zone))
        are_alike = likeness.of(good, lambda: arrived) == likeness.of(worse, lambda: arrived)
        assert are_alike is not where.rules.is_guarded
