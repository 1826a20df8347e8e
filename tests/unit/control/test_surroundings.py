from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from gatekeeper.control.recorded_surroundings import RecordedSurroundings
from gatekeeper.control.series import Quantity, Setup, Tolerance
from gatekeeper.control.surroundings import RoomSurroundings
from gatekeeper.register.made_for import MadeFor
from gatekeeper.register.register import read_register
from gatekeeper.room import book_of
from gatekeeper.rules.difference import read_record
from gatekeeper.site import site_of

REGISTER = b"""
stocks:
  matte-5mil: {kind: ink film}
lots:
  M5-0317: {stock: matte-5mil}
printers:
  P1: {head_changed: [2026-09-05, 2026-11-12]}
  P2: {}
curves:
  - {workflow: liquid-plate, printer: P1, stock: matte-5mil, linearized: 2026-10-12}
  - {workflow: liquid-plate, printer: P1, stock: matte-5mil, linearized: 2026-11-10, name: second}
  - {workflow: liquid-plate, printer: P2, stock: matte-5mil, linearized: 2026-11-10}
  - {workflow: liquid-plate, printer: P2, stock: matte-5mil, linearized: 2026-11-12,
     resolution_dpi: 1440, ruling_lpi: 65}
"""
WORKFLOW = b"""
workflow: liquid-plate
reading: negative
solid_density: {min: 2.70, spots: 3}
clear_density: {max: 0.10}
tints:
  - {nominal: 50, tolerance: 2.0}
"""
FILM = MadeFor("liquid-plate", "P1", "matte-5mil", 1440.0, 65.0)
STENCIL = b"workflow: stencil\nreading: positive\nsolid_density: {min: 3.0, max: 4.5}\n"
BROKEN = b"workflow: broken\nreading: sideways\n"


@pytest.fixture
def room(tmp_path):
    files = {
        "register/all.yaml": REGISTER,
        "workflows/liquid-plate.yaml": WORKFLOW,
        "workflows/stencil.yaml": STENCIL,
        "workflows/broken.yaml": BROKEN,
    }
    book = book_of(site_of(tmp_path, b"site: Ferrybank\n"), files)
    return RoomSurroundings(book.register, book.library, ZoneInfo("Europe/London"))


def at(*moment):
    return datetime(*moment, tzinfo=UTC)


def test_register_of_the_test_is_sound():
    assert read_register({"register/all.yaml": REGISTER})[1] == ()


def test_a_lot_tells_its_stock_and_a_strange_one_tells_nothing(room):
    assert room.stock("m5-0317") == "matte-5mil"
    assert room.stock("M5-9999") == ""


def test_a_workflow_tells_which_area_prints(room):
    assert room.polarity("liquid-plate") == "negative"
    assert room.polarity("stencil") == "positive"
    assert room.polarity("unheard-of") is None
    assert room.polarity("broken") is None


@pytest.mark.parametrize(
    ("quantity", "expected"),
    [
        (Quantity("tint", 50.0), Tolerance(48.0, 52.0)),
        (Quantity("tint", 5.0), Tolerance()),
        (Quantity("solid"), Tolerance(2.70, None)),
        (Quantity("clear"), Tolerance(None, 0.10)),
    ],
)
def test_tolerances_are_what_the_workflow_asks(room, quantity, expected):
    assert room.tolerance("liquid-plate", quantity) == expected


def test_tolerance_of_a_workflow_without_rules_is_open(room):
    assert room.tolerance("unheard-of", Quantity("solid")) == Tolerance()
    assert room.tolerance("stencil", Quantity("solid")) == Tolerance(3.0, 4.5)


@pytest.mark.parametrize(
    ("when", "curve"),
    [
        (at(2026, 10, 1, 9), ""),
        (at(2026, 10, 12, 9), "2026-10-12"),
        (at(2026, 11, 9, 23, 59), "2026-10-12"),
        (at(2026, 11, 10, 0, 1), "2026-11-10"),
    ],
)
def test_a_curve_counts_from_the_first_moment_of_its_day(room, when, curve):
    assert room.setup(FILM, "M5-0317", when).curve == curve


def test_a_curve_whose_acceptance_is_known_to_the_minute_counts_from_then(room):
    accepted = at(2026, 11, 10, 15, 30)
    exact = RoomSurroundings(room.register, room.library, room.zone, {"second": accepted})
    assert exact.setup(FILM, "M5-0317", at(2026, 11, 10, 15)).curve == "2026-10-12"
    assert exact.setup(FILM, "M5-0317", accepted).curve == "2026-11-10"


@pytest.mark.parametrize(
    ("when", "head"),
    [
        (at(2026, 9, 1, 9), ""),
        (at(2026, 9, 5, 9), "2026-09-05"),
        (at(2026, 11, 30, 9), "2026-11-12"),
    ],
)
def test_the_newest_change_of_a_head_before_the_print_counts(room, when, head):
    assert room.setup(FILM, "M5-0317", when).head == head


@pytest.mark.parametrize(
    ("ruling", "curve"),
    [(65.0, "2026-11-12 for 65 lpi at 1440 dpi"), (100.0, "2026-11-10"), (None, "2026-11-10")],
)
def test_films_of_two_rulings_have_the_curves_that_are_for_them(room, ruling, curve):
    film = FILM._replace(printer="P2", ruling_lpi=ruling)
    assert room.setup(film, "M5-0317", at(2026, 11, 30, 9)).curve == curve


def test_a_printer_without_records_has_a_setup_too(room):
    setup = room.setup(FILM._replace(printer="P9"), "M5-0317", at(2026, 11, 30, 9))
    assert setup == ("", "M5-0317", "")


@pytest.fixture
def recorded(room):
    """The same room as its verdicts recorded it."""
    texts = {name: room.library.effective(name, "").text for name in ("liquid-plate", "stencil")}
    rules = {name: read_record(text) for name, text in texts.items()}
    return RecordedSurroundings({"m5-0317": "matte-5mil"}, rules)


@pytest.mark.parametrize("workflow", ["liquid-plate", "stencil", "unheard-of"])
def test_the_record_of_rules_says_what_the_rules_said(room, recorded, workflow):
    assert recorded.polarity(workflow) == room.polarity(workflow)
    for quantity in (Quantity("solid"), Quantity("clear"), Quantity("tint", 50.0)):
        assert recorded.tolerance(workflow, quantity) == room.tolerance(workflow, quantity)
    assert recorded.tolerance(workflow, Quantity("tint", 33.0)) == Tolerance()


def test_of_another_room_lots_are_on_record_and_curves_and_heads_are_not(recorded):
    assert recorded.stock("m5-0317") == "matte-5mil"
    assert recorded.stock("X") == ""
    assert recorded.setup(FILM, "M5-0317", at(2026, 11, 20)) == Setup("", "M5-0317", "")
