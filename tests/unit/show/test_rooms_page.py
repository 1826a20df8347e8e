"""The page of the rooms that share one history, as text."""

from dataclasses import replace
from datetime import timedelta

import pytest
from several_rooms import AWAY, BAD_LOT, HERE, NORTH, ROOMS, TANNERY, held
from test_page import NASTY, WRITTEN, Reader

from gatekeeper.show.page import index_page, rooms_page
from gatekeeper.show.room_facts import Alarm, RoomFacts
from gatekeeper.show.shared_rooms import SharedRooms, age_says


def said(facts):
    return Reader(rooms_page(facts, written=WRITTEN)).text


def test_the_lot_that_goes_bad_in_three_rooms_is_told_before_anything_else():
    text = said(ROOMS)
    assert f"ACT {BAD_LOT}" in text
    assert text.index(BAD_LOT) < text.index("Newest verdict")
    assert "9 film lots were compared in 3 rooms. Each room compares a lot with its own" in text
    assert "8 HELD in 3 rooms" in text


def test_each_room_tells_its_counts_its_share_with_bounds_and_the_age_of_its_newest_verdict():
    # 15 of 148: 0.0624 to 0.1605, the example of Newcombe, Statistics in Medicine 17, 1998
    text = said(ROOMS)
    assert (
        "ferrybank (this room) 1 412 10%: 15 of 148 jobs, in the long run 6% to 16% "
        "24 Nov 16:57, 3 minutes ago" in text
    )
    assert "north 7 90 15%: 9 of 60 jobs" in text
    assert "21 Nov 11:02, 3 days ago" in text
    assert "tannery 0 0 no jobs none yet" in text


def test_held_jobs_stand_under_their_room_with_their_reason_and_the_rest_is_counted():
    text = said(ROOMS)
    assert (
        "north ■ HELD job 2041: the solid is too thin: light gets through it liquid-plate · "
        "Pennyroyal Preserves · since 24 Nov 09:12" in text
    )
    assert "the tint reads 4 % too high liquid-plate · since" in text
    assert "And 5 older held jobs: gatekeeper jobs --state held --room north" in text
    assert "older" not in said(replace(ROOMS, rooms=(HERE,)))


def test_peace_is_told_and_only_when_somebody_looked():
    quiet = replace(ROOMS, rooms=(TANNERY, replace(HERE, held_in_all=0, held=())), bad_lots=())
    text = said(quiet)
    assert "Nothing is held in these rooms." in text
    assert (
        "No lot holds more jobs than the others do: 9 film lots were compared in 2 rooms." in text
    )
    assert "ACT" not in text
    assert "No film lot was named" in said(replace(quiet, lots=0))
    blind = said(SharedRooms(room="Ferrybank Plate Room", alarms=(AWAY,)))
    assert "Nobody can tell while the history is away." in blind
    assert "Nothing is held" not in blind
    assert "lots" not in blind


def test_a_server_that_is_away_is_an_alarm_above_what_was_known():
    text = said(replace(ROOMS, alarms=(AWAY,)))
    alarm = f"ALARM {AWAY.says} DO: see to the server"
    assert text.index("when the history was asked: 24 Nov 17:00") < text.index(alarm)
    assert text.index(alarm) < text.index("HELD job 2041")


def test_rooms_that_are_not_shown_are_counted_and_where_they_are_chosen_is_said():
    assert "And 2 more rooms of this history" in said(replace(ROOMS, left_out=2))
    assert "page_rooms" in said(replace(ROOMS, left_out=2))
    assert "more room" not in said(ROOMS)
    assert replace(ROOMS, rooms=(HERE,), left_out=1).is_shared
    assert not replace(ROOMS, rooms=(HERE,)).is_shared


@pytest.mark.parametrize(
    ("age", "says"),
    [
        (timedelta(seconds=40), "just now"),
        (timedelta(seconds=-90), "just now"),
        (timedelta(minutes=1), "1 minute ago"),
        (timedelta(minutes=119), "1 hour ago"),
        (timedelta(hours=47), "1 day ago"),
        (timedelta(days=400), "400 days ago"),
        (timedelta(hours=-2), "2 hours ahead of this room's clock"),
    ],
)
def test_an_age_is_told_in_its_largest_unit_and_a_wrong_clock_as_one(age, says):
    assert age_says(age) == says


def test_the_rooms_own_page_links_to_it_only_where_there_is_one():
    alone = RoomFacts("R", is_at_work=True)
    assert {"href": "rooms.html"} in Reader(
        index_page(replace(alone, rooms_href="rooms.html"), written=WRITTEN)
    ).of("a")
    assert "rooms.html" not in index_page(alone, written=WRITTEN)


def test_text_of_other_rooms_is_escaped():
    job = held(NASTY, workflow=NASTY, customer=NASTY, since=NASTY, why=NASTY)
    facts = SharedRooms(
        room=NASTY,
        asked=NASTY,
        rooms=(replace(NORTH, name=NASTY, newest=NASTY, held=(job,)),),
        bad_lots=(NASTY,),
        alarms=(Alarm(NASTY, NASTY),),
    )
    reader = Reader(rooms_page(facts, written=WRITTEN))
    assert not {tag for tag, _ in reader.tags} & {"script", "img"}
    assert "{{ 7" in reader.text  # shown, not worked out


def test_equal_rooms_give_equal_bytes():
    assert rooms_page(ROOMS, written=WRITTEN) == rooms_page(replace(ROOMS), written=WRITTEN)
