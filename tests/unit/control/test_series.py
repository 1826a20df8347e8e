from datetime import timedelta

import pytest
from readings import SETUP, SOUND, START, Quantity, Tolerance, film, reading

from gatekeeper.control.series import SeriesKey, printed_at, quantities, series_of
from gatekeeper.verdict import Decision


class Room:
    """Knows one lot and one workflow."""

    def stock(self, lot):
        return {"M5-0317": "matte-5mil"}.get(lot, "")

    def polarity(self, workflow):
        return {"liquid-plate": "negative", "stencil": "positive"}.get(workflow)

    def setup(self, film, _lot, _when):
        return SETUP._replace(curve=film.setting or SETUP.curve)

    def tolerance(self, _workflow, quantity):
        return Tolerance(48.0, 52.0) if quantity.kind == "tint" else Tolerance()


def values(found, quantity):
    return [point.value for one in found if one.key.quantity == quantity for point in one.points]


def test_every_quantity_of_a_printer_and_film_is_a_series_with_its_tolerance():
    found = series_of([film()], Room())
    keys = {one.key.quantity.short: one for one in found}
    assert set(keys) == {"clear", "solid", "tint 50"}
    assert keys["tint 50"].key == SeriesKey(
        "liquid-plate", "P1", "matte-5mil", Quantity("tint", 50)
    )
    assert keys["tint 50"].tolerance == Tolerance(48.0, 52.0)


def test_a_film_has_the_curve_of_its_own_resolution_and_ruling():
    fine = film(particulars={"ruling_lpi": {"value": 100.0, "written": "100 lpi"},
                             "resolution_dpi": {"value": 1440, "written": "1440 dpi"}})  # fmt: skip
    (tint,) = (one for one in series_of([film(job="1"), fine], Room()) if one.key.quantity.nominal)
    assert {point.setup.curve for point in tint.points} == {SETUP.curve, "100 lpi at 1440 dpi"}


def test_spelling_of_printer_and_lot_makes_no_second_series():
    films = [film(job="1"), film(job="2", printer="p1", film_lot="m5-0317")]
    room = Room()
    room.stock = lambda _lot: "matte-5mil"
    (tint,) = (one for one in series_of(films, room) if one.key.quantity.nominal)
    assert tint.key.printer == "P1"
    assert len(tint.points) == 2
    assert len({point.setup for point in tint.points}) == 1


def test_lowest_solid_and_densest_clear_patch_count():
    read = quantities(film().negative, "negative")
    assert read[Quantity("solid")] == 2.88
    assert read[Quantity("clear")] == 0.02


def test_dot_of_the_meter_outranks_the_computed_one_and_patches_of_one_nominal_are_averaged():
    patches = (
        reading("solid", net=2.9),
        reading("tint", nominal=50.0, net=0.1, read=51.0),
        reading("tint", nominal=50.0, read=52.0),
    )
    assert quantities(film(patches).negative, "negative")[Quantity("tint", 50)] == 51.5


@pytest.mark.parametrize(("polarity", "expected"), [("negative", 50.06), ("positive", 49.94)])
def test_dot_is_computed_from_densities_as_the_workflow_prints(polarity, expected):
    # 10^-0.30 = 0.50119 passes the tint, 10^-2.90 the solid: 1 - (1 - 0.50119)/(1 - 0.00126).
    patches = (reading("solid", net=2.9), reading("tint", nominal=50.0, net=0.30))
    read = quantities(film(patches).negative, polarity)
    assert read[Quantity("tint", 50)] == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(
    "patches",
    [
        (reading("tint", nominal=50.0, net=0.3),),  # no solid to compare with
        (reading("solid", net=2.9, bound="at least"), reading("tint", nominal=50.0, net=0.3)),
        (reading("solid", net=2.9), reading("tint", nominal=50.0, net=0.3, bound="at most")),
        (reading("solid", net=0.0), reading("tint", nominal=50.0, net=0.3)),
        (),
    ],
)
def test_what_gives_no_dot_gives_no_reading(patches):
    assert Quantity("tint", 50) not in quantities(film(patches).negative, "negative")


def test_films_whose_place_is_not_known_belong_to_no_series():
    strangers = [
        film(printer=""),
        film(film_lot="M9-9999"),
        film(film_lot=""),
        film(workflow="unheard-of"),
    ]
    assert series_of(strangers, Room()) == ()


def test_points_stand_in_the_order_of_printing_not_of_arrival():
    late = film(job="late", day=2, printed=START)
    early = film(job="early", day=1, printed=START + timedelta(hours=5))
    found = series_of([early, late], Room())
    assert [point.job for point in found[0].points] == ["late", "early"]


def test_a_film_measured_again_counts_once_and_a_reprint_is_another_film():
    again = (*SOUND[:-1], reading("tint", nominal=50.0, read=49.0))
    printed, reprinted = START, START + timedelta(hours=3)
    films = [
        film(printed=printed, decision=Decision.HELD),
        film(again, printed=printed, day=1),
        film(printed=reprinted, day=2),
    ]
    assert values(series_of(films, Room()), Quantity("tint", 50)) == [49.0, 50.8]


def test_separations_of_one_job_are_films_of_their_own():
    films = [film(separation=name, printed=START) for name in ("black", "red")]
    assert len(values(series_of(films, Room()), Quantity("solid"))) == 2


def test_a_date_from_the_future_gives_way_to_the_moment_of_arrival():
    far = START + timedelta(days=13_000)
    assert printed_at(film(printed=far, measured=far)) == START
    measured = START - timedelta(hours=1)
    assert printed_at(film(printed=far, measured=measured)) == measured


def test_a_point_says_whether_its_sheet_was_held():
    films = [film(decision=Decision.HELD, job="1"), film(job="2", day=1)]
    held = [point.held for point in series_of(films, Room())[0].points]
    assert held == [True, False]


@pytest.mark.parametrize(
    ("quantity", "title", "unit"),
    [
        (Quantity("tint", 50.0), "mid-tone", "percent"),
        (Quantity("tint", 5.0), "5 % tint", "percent"),
        (Quantity("solid"), "solid density", "density"),
        (Quantity("clear"), "clear film", "density"),
    ],
)
def test_quantities_have_the_names_of_the_trade(quantity, title, unit):
    assert (quantity.title, quantity.unit) == (title, unit)
