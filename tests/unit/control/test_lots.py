"""A film lot that goes bad in several rooms is one signal."""

from gatekeeper.control.lots import lot_rates, rates_of, tally
from gatekeeper.history.past import Outcome
from gatekeeper.verdict import Decision


def outcome(job, lot, *, held, rules=("solid_density.min",)):
    decision = Decision.HELD if held else Decision.APPROVED
    rules = rules if held else ()
    return Outcome(
        job,
        "liquid-plate",
        decision,
        is_newest=True,
        is_conceded=False,
        printer="",
        film_lot=lot,
        rules=rules,
    )


def jobs(lot, held, whole):
    return [outcome(f"{lot}-{number}", lot, held=number < held) for number in range(whole)]


def test_three_rooms_that_each_say_little_say_it_together():
    room = jobs("M5-0317", 4, 12) + jobs("M5-0318", 4, 60)
    (alone, _) = lot_rates({"north": room})
    assert alone.lot == "M5-0317"
    assert not alone.is_worse
    (together, other) = lot_rates({"north": room, "south": room, "west": room})
    assert together.is_worse
    assert (together.held.part, together.held.whole) == (12, 36)
    assert (together.others.part, together.others.whole) == (12, 180)
    assert together.rooms == ("north", "south", "west")
    assert "film lot M5-0317: 12 of 36 jobs (20 to 50 %) held at the first try in 3 rooms" in (
        together.says
    )
    assert not other.is_worse


def test_a_room_that_holds_much_for_reasons_of_its_own_blames_no_lot():
    bad_room = jobs("M5-0317", 30, 60) + jobs("M5-0318", 5, 10)
    good_room = jobs("M5-0317", 1, 10) + jobs("M5-0318", 6, 60)
    assert not [rate for rate in lot_rates({"a": bad_room, "b": good_room}) if rate.is_worse]


def test_the_first_complete_verdict_of_a_job_counts_and_waiting_does_not():
    waiting = outcome("1", "M5", held=True, rules=("job.complete",))
    mended = [outcome("2", "M5", held=True), outcome("2", "M5", held=False)]
    passed = outcome("1", "M5", held=False)
    (rate,) = lot_rates({"north": [waiting, passed, *mended]})
    assert (rate.held.part, rate.held.whole, rate.p_value) == (1, 2, None)


def test_a_job_on_two_lots_counts_for_both_and_one_without_a_lot_for_none():
    found = lot_rates({"north": [outcome("1", "A, B", held=True), outcome("2", "", held=False)]})
    assert sorted(rate.lot for rate in found) == ["A", "B"]


def test_many_sound_lots_blame_none():
    room = [entry for number in range(40) for entry in jobs(f"L{number}", 2 + number % 2, 20)]
    assert not [rate for rate in lot_rates({"north": room}) if rate.is_worse]


def test_rooms_that_were_counted_earlier_give_the_same_answer():
    rooms = {
        "north": jobs("M5-0317", 4, 12) + jobs("M5-0318", 4, 60),
        "south": jobs("M5-0317", 2, 9) + jobs("M6-0001", 0, 20),
        "west": [],
    }
    assert rates_of({name: tally(iter(found)) for name, found in rooms.items()}) == lot_rates(rooms)
    assert tally(rooms["north"]).jobs == (8, 72)
    assert tally(rooms["north"]).lots == {"M5-0317": (4, 12), "M5-0318": (4, 60)}
