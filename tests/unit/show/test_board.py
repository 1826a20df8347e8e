"""The board as lines: what stands where, what never goes missing, and the gold files."""

import difflib
import io
import unicodedata
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from morning import CAUTION, MORNING, QUIET, approved, held
from rich.cells import cell_len
from rich.console import Console

from gatekeeper.show.board import Size, board, snapshot
from gatekeeper.show.board_parts import DRAWN, LETTERS
from gatekeeper.show.cells import Ink, fitted, labelled
from gatekeeper.show.large import large
from gatekeeper.show.paint import as_text, painted, shapes_for
from gatekeeper.show.room_facts import Alarm, RoomFacts, Waits

GOLD = Path(__file__).parent / "gold"
SIZES = [Size(80, 24), Size(120, 40)]


def console(encoding="utf-8", width=80):
    return Console(file=io.TextIOWrapper(io.BytesIO(), encoding=encoding), width=width)


def shown(facts, size, turn=0, shapes=DRAWN, encoding="utf-8"):
    return as_text(console(encoding), board(facts, size, turn, shapes).lines)


def compare(name, text):
    gold = GOLD / name
    new = gold.with_name(name + ".new")
    old = gold.read_text("utf-8") if gold.exists() else ""
    if text == old:
        new.unlink(missing_ok=True)
        return
    new.write_text(text, "utf-8")
    lines = difflib.unified_diff(old.splitlines(), text.splitlines(), name, new.name, "", "")
    pytest.fail("\n".join(lines), pytrace=False)


@pytest.mark.parametrize("size", SIZES)
def test_board_is_as_on_disk(size):
    compare(f"board-{size.width}x{size.height}.txt", shown(MORNING, size))


def test_board_without_utf_8_is_as_on_disk():
    compare("board-ascii.txt", shown(MORNING, SIZES[0], shapes=LETTERS, encoding="ascii"))


def test_board_in_a_pipe_is_as_on_disk():
    compare("board-pipe.txt", as_text(console(), snapshot(MORNING)))


def test_a_pipe_gets_every_job_and_no_trailing_blank():
    text = as_text(console(), snapshot(MORNING))
    for entry in (*MORNING.held, *MORNING.approved):
        assert entry.job in text
    assert all(line == line.rstrip() for line in text.splitlines())


@pytest.mark.parametrize("size", [*SIZES, Size(60, 20), Size(400, 100)])
def test_the_newest_held_job_its_reason_and_its_first_step_stand_on_every_turn(size):
    turns = board(MORNING, size).turns
    for turn in range(turns):
        text = " ".join(shown(MORNING, size, turn).split())
        assert "HELD 1044" in text
        assert "light gets through it" in text
        assert "Clean the negative on both sides" in text


@pytest.mark.parametrize("size", SIZES)
def test_every_held_job_is_shown_in_some_turn(size):
    texts = [shown(MORNING, size, turn) for turn in range(board(MORNING, size).turns)]
    for job in MORNING.stopped:
        assert any(f"HELD {job.job}" in text for text in texts), job.job
    for entry in MORNING.waits:
        assert any(entry.name in text for text in texts), entry.name


@pytest.mark.parametrize("width", [20, 24, 40, 60, 80, 120])
def test_how_to_end_the_board_is_said_on_every_screen(width):
    for facts in (MORNING, QUIET):
        foot = shown(facts, Size(width, 12)).splitlines()[-1]
        assert "q ends" in foot


def test_a_caution_stands_beside_its_step():
    lines = shown(MORNING, SIZES[0]).splitlines()
    step = next(number for number, line in enumerate(lines) if "Clean the negative" in line)
    assert lines[step + 1].strip().startswith("!!   CAUTION: film cleaner")
    rest = " ".join(" ".join(lines[step + 1 : step + 3]).split())
    assert CAUTION in rest


def test_the_number_is_large_where_there_is_room_and_in_words_where_not():
    assert "██" in shown(MORNING, SIZES[1])
    assert "██" not in shown(MORNING, SIZES[0])
    unusual = replace(MORNING, held=(held("箱 7"),))
    assert "██" not in shown(unusual, SIZES[1])  # half a number would be another job's
    assert "HELD 箱 7" in shown(unusual, SIZES[1])


@pytest.mark.parametrize("width", range(60, 300, 30))
def test_large_letters_fit_and_are_told_apart(width):
    seen = set()
    for letter in "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-_/. ":
        drawn = large(letter, width, 15)
        assert drawn
        assert max(map(len, drawn)) <= width
        seen.add(tuple(drawn))
    assert len(seen) == 41
    assert large("HELD 1042", 5, 15) == []
    assert large("", width, 15) == []


def test_a_plate_that_may_have_been_made_is_said():
    text = shown(replace(MORNING, held=(held(was_approved=True),)), SIZES[0])
    assert "!!   it was approved before: find its plate" in text


def test_alarms_take_a_third_of_the_screen_at_most_and_the_rest_is_counted():
    alarms = tuple(Alarm(f"SHARE {number} IS AWAY", "mount it again") for number in range(20))
    text = shown(replace(MORNING, alarms=alarms), SIZES[0])
    assert text.count("ALARM") == 4
    assert "and 16 more alarms" in text
    assert "HELD 1044" in text


def test_a_silent_gate_is_never_shown_as_peace():
    text = shown(RoomFacts(room="R", is_at_work=False), SIZES[0])
    assert "Nothing is held." not in text
    assert "GATE NOT AT WORK" in text
    assert "Nothing is held." in shown(QUIET, SIZES[0])


def test_unknown_counts_are_not_shown_as_none():
    assert "? approved" in shown(replace(QUIET, approved_in_all=None), SIZES[0])


def test_a_job_that_lacks_a_separation_waits_and_is_not_counted_as_held():
    text = shown(MORNING, SIZES[1])
    assert " 7 HELD   4 waiting   412 approved" in text
    assert "WAITS     1070" in text
    assert "HELD 1070" not in text


def test_equal_facts_give_equal_lines():
    again = replace(MORNING)
    for size in SIZES:
        assert board(MORNING, size) == board(again, size)


words = st.text(st.characters(exclude_categories=("Cc", "Cf", "Cs", "Co", "Zl", "Zp")), max_size=99)


@given(
    st.builds(
        RoomFacts,
        room=words,
        is_at_work=st.booleans(),
        alarms=st.lists(st.builds(Alarm, words, words), max_size=4).map(tuple),
        held=st.lists(st.builds(held, words, why=words, do=words, customer=words), max_size=5).map(
            tuple
        ),
        waits=st.lists(st.builds(Waits, words, words, words), max_size=5).map(tuple),
        approved=st.lists(st.builds(approved, words, concession=words), max_size=5).map(tuple),
    ),
    st.integers(20, 250),
    st.integers(2, 90),
    st.integers(-5, 50),
    st.sampled_from(["utf-8", "ascii", "cp1252"]),
)
@settings(max_examples=60, deadline=None)
def test_the_board_fills_exactly_its_terminal_whatever_stands_in_it(
    facts, width, height, turn, encoding
):
    terminal = console(encoding)
    picture = board(facts, Size(width, height), turn, shapes_for(terminal, "xterm"))
    assert len(picture.lines) == height
    assert all(cell_len("".join(text for text, _ in line)) <= width for line in picture.lines)
    text = as_text(terminal, picture.lines)
    text.encode(encoding)
    hidden = {"Cc", "Cf", "Cs"}
    assert not {unicodedata.category(letter) for letter in text if letter != "\n"} & hidden


@pytest.mark.parametrize("colours", ["truecolor", "256", "standard"])
def test_the_ground_is_painted_without_blue_and_words_survive_without_colour(colours):
    def printed(**options):
        file = io.StringIO()
        terminal = Console(file=file, width=80, height=24, force_terminal=True, **options)
        terminal.print(painted(terminal, board(MORNING, SIZES[0]).lines))
        return file.getvalue()

    coloured = printed(color_system=colours)
    blues = [f"{code}" for code in (34, 44, 94, 104)]
    codes = {code for part in coloured.split("\x1b[")[1:] for code in part.split("m")[0].split(";")}
    if colours == "standard":
        assert not codes & set(blues)
    assert "\x1b[" in coloured
    plainly = printed(color_system=None)
    assert "\x1b[" not in plainly
    assert "HELD 1044" in plainly
    assert "\x1b[1;7m" in printed(color_system=colours, no_color=True)  # the bar stays reversed


def test_small_fonts_get_signs_that_they_have():
    assert shapes_for(console(), "linux") is LETTERS
    assert shapes_for(console(), "xterm-256color") is DRAWN
    assert shapes_for(console("ascii"), "xterm-256color") is LETTERS
    for shapes in (DRAWN, LETTERS):
        kinds = [shapes.held, shapes.alarm, shapes.waits, shapes.approved, shapes.due]
        assert len(set(kinds)) == len(kinds)  # told apart without colour


def test_lines_are_cut_with_a_mark_or_filled():
    assert fitted((("abcdefghij", Ink.TEXT),), 8) == (("abcde...", Ink.TEXT),)
    assert fitted((("ab", Ink.TEXT), ("cd", Ink.SOFT)), 3) == (("ab", Ink.TEXT), (".", Ink.SOFT))
    assert fitted((), 2) == (("  ", Ink.TEXT),)
    label = (" DO", Ink.STRONG)
    rows = labelled(label, "one two three four", Ink.TEXT, 13, most=2, start=5)
    assert ["".join(text for text, _ in row) for row in rows] == [" DO  one two", "     three..."]
