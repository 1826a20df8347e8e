from datetime import UTC, date, datetime

import pytest

from gatekeeper.care.register_desk import RegisterDesk
from gatekeeper.care.registers import LOTS, METERS, PRINTERS, add, change, typed_fields
from gatekeeper.errors import UsageError
from gatekeeper.filing.disk import Disk
from gatekeeper.register.rows import DueRow, Row
from gatekeeper.show.registers import due_lines, entry_lines

FILE = """\
# ours
meters:
  T-04: {calibrated: 2026-09-01, filter: visual}   # the good one
stocks:
  matte-5mil: {kind: ink film}
lots:
  M5-0317: {stock: matte-5mil, made: 2026-05-11}
printers:
  P1: {resolution_dpi: [720, 1440]}
"""


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "register/all.yaml"
    path.parent.mkdir()
    path.write_text(FILE)
    return path


@pytest.fixture
def desk(file):
    return RegisterDesk(file.parents[1], Disk())


def test_what_is_typed_is_written_and_read_back(desk, file):
    given = {
        "calibrated": "2026-11-20",
        "uncertainty": "0.02",
        "interval_days": "365",
        "tablet": ("A=0.05", "B=1.48"),
        "tablet_uncertainty": "0.01",
        "note": "in the drawer: left # side",
    }
    assert add(desk, METERS, "T-11", given) == "register/all.yaml"
    entry = desk.register.meter("T-11")
    assert entry.calibrated == date(2026, 11, 20)
    assert (entry.tablet, entry.tablet_uncertainty) == ({"A": 0.05, "B": 1.48}, 0.01)
    assert entry.note == "in the drawer: left # side"
    assert "# the good one" in file.read_text()


def test_a_name_that_is_taken_is_refused_in_any_spelling(desk, file):
    with pytest.raises(UsageError, match='"T-04" is in the register already'):
        add(desk, METERS, "t-04", {"calibrated": "2026-11-20"})
    assert file.read_text() == FILE


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({}, 'the new meter: the key "calibrated" is missing'),
        ({"calibrated": "soon"}, '--calibrated: "soon" is not a date'),
        ({"calibrated": "2026-02-30"}, "--calibrated: there is no day"),
        ({"calibrated": "2026-11-20", "uncertainty": "0,02"}, "--uncertainty"),
        ({"calibrated": "2026-11-20", "uncertainty": "-1"}, "--uncertainty"),
        ({"calibrated": "2026-11-20", "tablet": ("A=x",)}, "--tablet"),
        ({"calibrated": "2026-11-20", "tablet": ("A",)}, "--tablet"),
        ({"calibrated": "x", "uncertainty": "y"}, "--calibrated.*--uncertainty"),
    ],
)
def test_what_cannot_be_used_is_said_beside_its_option_and_nothing_is_written(
    desk, file, given, says
):
    with pytest.raises(UsageError, match=says):
        add(desk, METERS, "T-11", given)
    assert file.read_text() == FILE


def test_a_changed_key_takes_the_place_of_the_old_one_and_nothing_else_moves(desk, file):
    change(desk, METERS, "t-04", {"calibrated": "2026-11-25"})
    assert file.read_text() == FILE.replace("2026-09-01", "2026-11-25")


def test_changes_of_a_head_are_a_diary(desk):
    for day in ("2026-11-20", "2026-09-05", "2026-11-20"):
        change(desk, PRINTERS, "P1", {"head_changed": (day,)})
    assert desk.register.printer("P1").head_changed == (date(2026, 9, 5), date(2026, 11, 20))


def test_a_change_is_checked_together_with_what_stands_there(desk, file):
    with pytest.raises(Exception, match="before"):
        change(desk, LOTS, "M5-0317", {"opened": "2026-05-01"})
    assert file.read_text() == FILE


@pytest.mark.parametrize(
    ("name", "given", "says"),
    [
        ("T-05", {"calibrated": "2026-11-25"}, 'no meter is called "T-05"'),
        ("T-04", {}, "nothing to change"),
        ("T-04", {"calibrated": "never"}, "is not a date"),
    ],
)
def test_a_change_that_cannot_be_made_is_explained(desk, file, name, given, says):
    with pytest.raises(UsageError, match=says):
        change(desk, METERS, name, given)
    assert file.read_text() == FILE


def test_only_what_is_given_is_written():
    assert typed_fields(METERS, {"calibrated": "2026-11-20"}) == {"calibrated": date(2026, 11, 20)}


def test_a_lot_shows_how_much_film_is_left():
    row = Row("M9", {"stock": "matte-5mil", "length_m": 30.0, "opened": "2026-11-02"}, 12.5, 22)
    assert list(entry_lines([row], "film lot")) == [
        "M9  stock matte-5mil, length 30 m, opened 2026-11-02, about 12.5 m left after",
        "    22 films",
    ]
    assert row.as_data()["length_left_m"] == 12.5


def test_an_empty_register_says_so():
    assert list(entry_lines([], "meter")) == ["the register holds no meter"]
    assert list(due_lines([])) == ["nothing runs out"]


def due(days):
    return DueRow("meter T-04", date(2026, 12, 1), days, "calibration", "send it", ("plate",))


@pytest.mark.parametrize(
    ("days", "says"),
    [(-1, "OVER  2026-12-01  1 day ago"), (0, "  2026-12-01  today"), (3, "in 3 days")],
)
def test_what_runs_out_says_when(days, says):
    assert says in next(due_lines([due(days)]))


def test_dues_are_data_too():
    assert due(-1).as_data()["last_day"] == datetime(2026, 12, 1, tzinfo=UTC).date().isoformat()
