"""What the room owns, read from any number of files."""

from datetime import date

import pytest

from gatekeeper.register.made_for import MadeFor
from gatekeeper.register.register import Register, read_register
from gatekeeper.yamlfiles.load import CannotRead

METERS = "meters:\n  T-04: {calibrated: 2026-09-01, uncertainty: 0.02, filter: visual}\n"
FILMS = """\
stocks:
  matte-5mil: {kind: ink film, thickness_mil: 5}
lots:
  M5-0317: {stock: Matte-5MIL, made: 2026-05-11, opened: 2026-11-02, expires: 2027-05-11}
"""
CURVES = """\
curves:
  - {workflow: liquid-plate, printer: P1, stock: matte-5mil, linearized: 2026-10-12}
  - {workflow: liquid-plate, printer: P1, stock: matte-5mil, linearized: 2026-11-10, name: second}
  - {workflow: liquid-plate, printer: P1, stock: matte-5mil, linearized: 2026-09-01}
"""


def read(**files):
    return read_register({f"register/{name}.yaml": text.encode() for name, text in files.items()})


def told(problems):
    return [f"{entry.place.exact.removeprefix('register/')} {entry.name}" for entry in problems]


def test_several_files_make_one_register():
    register, problems = read(meters=METERS, films=FILMS, curves=CURVES)
    assert problems == ()
    assert register.meter("T-04").calibrated == date(2026, 9, 1)
    assert register.lot("M5-0317").opened == date(2026, 11, 2)
    assert register.stock("matte-5mil").thickness_mil == 5
    assert len(register.curves) == 3


@pytest.mark.parametrize("key", ["t-04", " T-04 ", "T-04"])
def test_names_are_found_without_their_case(key):
    register, _ = read(meters=METERS)
    assert register.meter(key).uncertainty == 0.02
    assert register.meter("T-05") is None


def test_what_no_register_lists_is_not_known():
    register = Register()
    assert register.meter("x") is None
    assert register.lot("x") is None
    assert register.printer("x") is None
    assert register.stock("x") is None
    assert register.curve(MadeFor("w", "p", "s"), date(2026, 1, 1)) is None


@pytest.mark.parametrize(
    ("day", "linearized"),
    [
        (date(2026, 8, 31), None),
        (date(2026, 9, 1), date(2026, 9, 1)),
        (date(2026, 11, 9), date(2026, 10, 12)),
        (date(2026, 11, 10), date(2026, 11, 10)),
        (date(2030, 1, 1), date(2026, 11, 10)),
    ],
)
def test_curve_in_use_is_the_newest_that_is_not_later_than_the_day(day, linearized):
    register, _ = read(films=FILMS, curves=CURVES)
    found = register.curve(MadeFor("LIQUID-plate", "p1", "matte-5mil"), day)
    assert (found.linearized if found else None) == linearized


def test_curve_is_for_its_own_workflow_printer_and_stock():
    register, _ = read(films=FILMS, curves=CURVES)
    for route in (("stencil", "P1", "matte-5mil"), ("liquid-plate", "P2", "matte-5mil")):
        assert register.curve(MadeFor(*route), date(2027, 1, 1)) is None


SETTINGS = """
curves:
  - {workflow: w, printer: P1, stock: matte-5mil, linearized: 2026-11-01}
  - {workflow: w, printer: P1, stock: matte-5mil, linearized: 2026-11-03,
     resolution_dpi: 1440, ruling_lpi: 66}
  - {workflow: w, printer: P1, stock: matte-5mil, linearized: 2026-11-04,
     resolution_dpi: 1440, ruling_lpi: 100}
  - {workflow: w, printer: P1, stock: matte-5mil, linearized: 2026-11-09}
  - {workflow: w, printer: P1, stock: matte-5mil, linearized: 2026-11-09, ruling_lpi: 100}
"""


@pytest.mark.parametrize(
    ("day", "setting", "expected"),
    [
        (2, (1440, 66), 0),  # a line without a setting stands for all of them
        (3, (1440, 66.04), 1),  # 26 lines a centimetre
        (3, (1440, 65), 0),
        (3, (720, 66), 0),
        (5, (1440, 66), 1),
        (5, (1440, 100), 2),
        (5, (1440, None), 0),  # which of the others it was would be a guess
        (5, (None, None), 0),
        (9, (1440, 66), 3),  # the newest that serves
        (9, (1440, 100), 4),  # of one day the one that names more
        (9, (720, 100), 4),
    ],
)
def test_curve_in_use_is_the_newest_that_serves_resolution_and_ruling(day, setting, expected):
    register, _ = read(films=FILMS, curves=SETTINGS)
    film = MadeFor("w", "P1", "matte-5mil", *setting)
    assert register.curve(film, date(2026, 11, day)) is register.curves[expected]


@pytest.mark.parametrize(
    ("setting", "words", "missing"),
    [
        ((1440, 66.04), "66.04 lpi at 1440 dpi", ""),
        ((None, 65), "65 lpi", "resolution"),
        ((None, None), "", "ruling and resolution"),
    ],
)
def test_setting_is_said_in_words(setting, words, missing):
    made_for = MadeFor("w", "P1", "matte-5mil", *setting)
    assert (made_for.setting, made_for.missing) == (words, missing)


def test_empty_register_is_no_problem():
    assert read_register({}) == (Register(), ())


def test_problems_of_all_files_are_told_and_the_good_ones_are_read():
    register, problems = read(
        meters=METERS, films="stocks: [\n", printers="printers: {P1: {dpi: 720}}\n"
    )
    assert told(problems) == ["films.yaml:2:1 not-yaml", "printers.yaml:1:17 unknown-key"]
    assert register.meter("T-04")


def test_stock_is_not_missed_while_a_file_is_broken_that_may_describe_it():
    _, problems = read(films=FILMS, more="lots: {X: {stock: matte-9mil}}\nmeters: [\n")
    assert told(problems) == ["more.yaml:3:1 not-yaml"]


def test_stock_that_nobody_describes_is_told_beside_other_problems():
    _, problems = read(films=FILMS, more="lots: {X: {stock: matte-9mil, opend: 2026-01-01}}\n")
    assert told(problems) == ["more.yaml:1:19 unknown-stock", "more.yaml:1:31 unknown-key"]


def test_stock_is_not_missed_while_a_block_is_misspelt_that_may_describe_it():
    _, problems = read(
        films="stoks: {matte-9mil: {kind: ink film}}\nlots: {X: {stock: matte-9mil}}\n"
    )
    assert told(problems) == ["films.yaml:1:1 unknown-key"]


def test_keys_twice_are_found_across_files_and_on_one_line():
    _, problems = read(meters=METERS, more="meters: {t-04: {calibrated: 2026-01-01}}\n")
    assert told(problems) == ["more.yaml:1:10 key-twice"]
    assert "register/meters.yaml:2" in problems[0].what
    _, problems = read(p="printers: {P1: {note: a}, p1: {note: b}}\n")
    assert told(problems) == ["p.yaml:1:27 key-twice"]


@pytest.mark.parametrize(
    ("dates", "problem"),
    [
        ("made: 2026-05-11, received: 2026-05-10", "received 2026-05-10 is before made 2026-05-11"),
        ("made: 2026-05-11, opened: 2026-05-10", "opened 2026-05-10 is before made 2026-05-11"),
        ("made: 2026-05-11, expires: 2026-05-10", "expires 2026-05-10 is before made 2026-05-11"),
        (
            "received: 2026-05-11, opened: 2026-05-10",
            "opened 2026-05-10 is before received 2026-05-11",
        ),
    ],
)
def test_dates_of_a_lot_are_in_order(dates, problem):
    _, problems = read(f=f"stocks: {{a: {{kind: ink film}}}}\nlots: {{X: {{stock: a, {dates}}}}}\n")
    assert [entry.what for entry in problems] == [problem]
    assert problems[0].place.line == 2


def test_dates_of_one_day_are_in_order():
    text = "lots: {X: {stock: a, made: 2026-05-11, received: 2026-05-11, opened: 2026-05-11}}\n"
    assert read(f="stocks: {a: {kind: ink film}}\n" + text)[1] == ()


def test_curve_names_a_stock_and_a_printer_that_are_described():
    text = "curves: [{workflow: w, printer: P2, stock: b, linearized: 2026-05-11}]\n"
    known = "stocks: {a: {kind: ink film}}\nprinters: {P1: {note: new}}\n"
    _, problems = read(f=known + text)
    assert told(problems) == ["f.yaml:3:33 unknown-printer", "f.yaml:3:44 unknown-stock"]


def test_printer_of_a_curve_is_not_asked_for_where_no_printer_is_described():
    text = "curves: [{workflow: w, printer: P2, stock: a, linearized: 2026-05-11}]\n"
    assert read(f="stocks: {a: {kind: ink film}}\n" + text)[1] == ()


def test_file_that_cannot_be_read_is_a_problem_and_not_an_empty_register():
    _, problems = read_register({"register/": CannotRead("Permission denied")})
    assert [problem.name for problem in problems] == ["unreadable-file"]


def test_equal_key_in_one_file_is_told_and_the_rest_is_read():
    register, problems = read(
        m="meters:\n  T-04: {calibrated: 2026-01-01}\n  T-04: {calibrated: 2026-02-01}\n"
        "  T-05: {calibrated: 2026-03-01}\n"
    )
    assert told(problems) == ["m.yaml:3:3 key-twice"]
    assert register.meter("T-05")
