"""The board on a terminal that only records: still, turned, painted anew, and heard."""

import io
from dataclasses import replace

import pytest
from rich.console import Console

from gatekeeper.cli.board import Screen, follow
from gatekeeper.show.room_facts import HeldJob, RoomFacts


def held(job, **changes):
    usual = {
        "workflow": "liquid-plate",
        "customer": "Quillmark Cartons",
        "since": "24 Nov 09:12",
        "why": "the solid is too thin",
        "further": 0,
        "do": "Clean the negative.",
        "caution": "",
        "was_approved": False,
        "awaits": False,
        "ticket": f"ticket-{job}",
    }
    return HeldJob(str(job), **(usual | changes))


ONE = RoomFacts(room="Ferrybank", is_at_work=True, held=(held(1),), held_in_all=1)
MANY = replace(ONE, held=tuple(held(job) for job in range(40)), held_in_all=40)


class Paper:
    """Keeps every picture that was put on it, as text."""

    def __init__(self):
        self.pictures = []

    def update(self, renderable, *, refresh=False):
        assert refresh
        file = io.StringIO()
        Console(file=file, width=80, height=24).print(renderable)
        self.pictures.append(file.getvalue())


class Fingers:
    """Press keys one a tick, and then end."""

    def __init__(self, *keys):
        self._keys = [*keys, "end"]

    def wait(self, longest_s):
        assert longest_s > 0
        return self._keys.pop(0)


class Time:
    """Goes on a second with each look at it."""

    def __init__(self):
        self.at = 0.0

    def __call__(self):
        self.at += 1
        return self.at


@pytest.fixture
def paper():
    return Paper()


def show(paper, facts, *keys, turn_s=0.0):
    """Follow facts (one list entry a tick, the last one stays); return how often it rang."""
    rung = []
    ahead = [*facts]
    terminal = Console(file=io.StringIO(), width=80, height=24, force_terminal=True)
    follow(
        Screen(terminal, paper, turn_s, Time()),
        Fingers(*keys),
        lambda: ahead.pop(0) if len(ahead) > 1 else ahead[0],
        lambda: rung.append(True),
    )
    return len(rung)


def test_nothing_is_painted_while_nothing_changes(paper):
    show(paper, [ONE], *[""] * 20)
    assert len(paper.pictures) == 1


def test_a_change_is_painted(paper):
    show(paper, [ONE, ONE, replace(ONE, held=(held(2), held(1)))], *[""] * 5)
    assert len(paper.pictures) == 2
    assert "HELD 2" in paper.pictures[1]


def test_keys_turn_on_back_and_to_the_first_and_repaint(paper):
    show(paper, [MANY], "on", "on", "back", "first", "repaint")
    numbers = [picture.rpartition("screen ")[2][0] for picture in paper.pictures]
    assert numbers == ["1", "2", "3", "2", "1", "1"]


def test_going_back_from_the_first_screen_leads_to_the_last(paper):
    show(paper, [MANY], "back")
    last = paper.pictures[0].partition(" of ")[2].split(",")[0]
    assert f"screen {last} of {last}" in paper.pictures[1]


def test_a_long_list_turns_by_itself_and_holds_still_for_who_turned_by_hand(paper):
    show(paper, [MANY], *[""] * 12, turn_s=4.0)
    assert len(paper.pictures) == 4
    by_hand = Paper()
    show(by_hand, [MANY], "on", *[""] * 12, turn_s=4.0)
    assert len(by_hand.pictures) == 2


def test_a_long_list_stands_still_when_turning_is_off(paper):
    show(paper, [MANY], *[""] * 30, turn_s=0.0)
    assert len(paper.pictures) == 1


@pytest.mark.parametrize(
    ("later", "rings"),
    [
        ((held(1),), 0),  # nothing new; what was held at the start is not heard either
        ((held(2), held(1)), 1),
        ((held(3), held(2), held(1)), 1),  # two at a time are one sound
        ((), 0),  # released
        ((held(1, ticket="again"),), 1),  # measured again, and held again
        ((held(2, awaits=True), held(1)), 0),  # only waits for its other separation
    ],
)
def test_the_bell_rings_once_on_a_new_hold(paper, later, rings):
    assert show(paper, [ONE, replace(ONE, held=later)], *[""] * 5) == rings


def test_ctrl_c_ends_the_board_quietly(paper):
    def interrupted():
        raise KeyboardInterrupt

    terminal = Console(file=io.StringIO(), width=80, height=24, force_terminal=True)
    follow(Screen(terminal, paper, 0.0), Fingers(), interrupted, interrupted)
    assert paper.pictures == []
