from dataclasses import replace
from datetime import UTC, datetime, timedelta

from readings import SETUP, START, film, points, quiet

from gatekeeper.control.document import review_document
from gatekeeper.control.review import Wanted, empty_review, review
from gatekeeper.control.series import Tolerance
from gatekeeper.history.past import Outcome
from gatekeeper.verdict import Decision

NOW = START + timedelta(days=20)


class Room:
    def stock(self, _lot):
        return "matte-5mil"

    def polarity(self, _workflow):
        return "negative"

    def setup(self, *_):
        return SETUP

    def tolerance(self, _workflow, quantity):
        return Tolerance(48.0, 52.0) if quantity.kind == "tint" else Tolerance()


class History:
    """Answers what it was given, and keeps what it was asked."""

    site = "north"

    def __init__(self, films=(), outcomes=()):
        self.answers = films, outcomes
        self.asked = []

    def each_film(self, **asked):
        self.asked.append(asked)
        return self.answers[0]

    def outcomes(self, **asked):
        self.asked.append(asked)
        return self.answers[1]


def drifting_films():
    values = [*quiet(20), *(50.07 + 0.07 * index + step for index, step in enumerate(quiet(20, 0)))]
    for point in points(values):
        yield film(
            [replace(film().negative.readings[-1], dot_read_percent=point.value)],
            job=point.job,
            day=(point.when - START) / timedelta(days=1),
            printed=point.when,
        )


def outcome(workflow, decision):
    return Outcome(
        workflow,
        workflow,
        decision,
        is_newest=True,
        is_conceded=False,
        printer="",
        film_lot="",
        rules=(),
    )


def look(history, **wanted):
    return review([(history, Room())], Wanted(START, **wanted), now=NOW, zone=UTC)


def test_what_presses_comes_first_and_is_news():
    history = History([film(job="quiet", printer="P0"), *drifting_films()])
    found = look(history)
    assert [trend.series.key.printer for trend in found.trends if trend.is_news] == ["P1"]
    assert found.trends[0].is_news
    assert found.news == (found.trends[0].says[0],)


def test_the_history_is_asked_for_just_what_is_wanted():
    history = History()
    look(history, workflow="liquid-plate", printer="P1")
    assert history.asked == [
        {"since": START, "workflow": "liquid-plate", "printer": "P1"},
        {"since": START, "workflow": "liquid-plate"},
    ]


def test_sheets_about_the_room_are_no_jobs_and_count_in_no_yield():
    shelves = ("wedges", "meter-checks", "meter-studies")
    history = History(
        outcomes=[
            outcome("liquid-plate", Decision.APPROVED),
            *(outcome(shelf, Decision.HELD) for shelf in shelves),
        ]
    )
    found = look(history).rooms[0].came_through
    assert (found.held.part, found.held.whole) == (0, 1)


def test_a_review_is_data_for_other_programs():
    document = review_document(look(History(list(drifting_films()))))
    (chart,) = document["rooms"][0]["series"]
    assert document["news"] == [chart["says"][0]]
    assert chart["drift"]["is_sure"]
    assert datetime.fromisoformat(chart["drift"]["crossing"]) > START
    assert chart["points"][0]["when"] == START.isoformat()
    assert chart["capability"]["cpk_bounds"]["lower"] < chart["capability"]["cpk"]


def test_a_room_without_a_history_has_an_empty_review():
    found = empty_review(Wanted(START), NOW)
    assert (found.trends, found.news, found.rooms[0].came_through.held.whole) == ((), (), 0)


def test_of_several_rooms_each_has_its_charts_and_news_name_their_room():
    south = History([film(job="quiet", printer="P0")])
    south.site = "south"
    seen = review(
        [(History(list(drifting_films())), Room()), (south, Room())],
        Wanted(START),
        now=NOW,
        zone=UTC,
    )
    assert [room.room for room in seen.rooms] == ["north", "south"]
    assert {trend.series.key.printer for trend in seen.rooms[1].trends} == {"P0"}
    assert seen.news == (f"north: {seen.rooms[0].trends[0].says[0]}",)
    assert seen.compared == ("north", "south")


def test_rooms_that_are_only_compared_have_no_charts():
    south = History(list(drifting_films()))
    south.site = "south"
    seen = review([(History(), Room())], Wanted(START), now=NOW, zone=UTC, compared=[south])
    assert [room.room for room in seen.rooms] == ["north"]
    assert seen.compared == ("north", "south")
    assert len(south.asked) == 1


def test_yield_of_a_printer_counts_the_jobs_whose_sheets_name_it():
    jobs = [
        replace(outcome(name, Decision.APPROVED), printer=printer)
        for name, printer in (("1", "P1"), ("2", "P2"), ("3", "P10, P1"), ("4", "P10"), ("5", ""))
    ]
    (room,) = look(History(outcomes=jobs), printer="P1").rooms
    assert (room.came_through.first_pass.part, room.came_through.first_pass.whole) == (2, 2)
