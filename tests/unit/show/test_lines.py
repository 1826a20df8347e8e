import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from gatekeeper.show.lines import columns, cut, padded, table, wrapped
from gatekeeper.wording import plain

HIDDEN = {"Cc", "Cf", "Cs", "Co", "Zl", "Zp"}
text = st.text(max_size=60).map(plain)


def test_no_character_is_counted_narrower_than_a_terminal_library_counts_it():
    # Source: the width tables of rich 15 (Unicode 17); ours may be wider, never narrower.
    characters = map(chr, range(0x20000))  # the planes above hold wide ideographs alone
    shown = (each for each in characters if unicodedata.category(each) not in HIDDEN)
    assert [hex(ord(each)) for each in shown if columns(each) < cell_len(each)] == []


@given(text)
def test_no_text_is_counted_narrower_than_a_terminal_library_counts_it(line):
    assert columns(line) >= cell_len(line)


@pytest.mark.parametrize(
    ("line", "width"),
    [
        ("", 0),
        ("solid", 5),
        ("Größe", 5),
        ("箱", 2),  # UAX 11: W
        ("\uff21", 2),  # UAX 11: F, a full-width letter
        ("ｱ", 1),  # UAX 11: H, half width
        ("e\u0301", 1),  # e and a combining accent
        ("a\u20dd", 1),  # a letter and the circle round it
        ("☺\ufe0f", 2),
        ("\u0378", 2),  # not assigned: may be anything, so room for a wide one
    ],
)
def test_known_widths(line, width):
    assert columns(line) == width


@given(text, st.integers(16, 80))
def test_wrapped_lines_keep_every_letter_and_the_width(line, width):
    lines = wrapped(line, width, first="1.  ", rest="    ")
    assert all(columns(each) <= width for each in lines)
    assert "".join("".join(each[4:] for each in lines).split()) == "".join(line.split())
    assert [each[:4] for each in lines] == ["1.  "] + ["    "] * (len(lines) - 1)


def test_words_are_kept_whole_and_long_ones_break_behind_a_sign():
    assert wrapped("one two three", 8) == ["one two", "three"]
    assert wrapped("see workflows/liquid-plate.yaml", 20) == [
        "see",
        "workflows/liquid-",
        "plate.yaml",
    ]
    for width in range(8, 27):
        lines = wrapped("linear.max_below_zero", width)
        assert all(line.endswith((".", "_")) for line in lines[:-1]), lines
    assert wrapped("abcdefghij", 4) == ["abcd", "efgh", "ij"]
    assert wrapped("箱箱箱", 4) == ["箱箱", "箱"]
    assert wrapped("", 4) == [""]


@given(text, st.integers(5, 80))
def test_what_is_cut_fits_and_says_so(line, width):
    short = cut(line, width)
    assert columns(short) <= width
    assert short == line or short.endswith("...")


def test_padding_counts_wide_characters():
    assert padded("箱", 4) == "箱  "


@given(st.lists(st.tuples(text, text, text, text), max_size=4))
def test_a_table_never_grows_wider_than_the_page_and_loses_no_letter(rows):
    lines = table(rows, 40, indent="  ")
    assert all(columns(line) <= 40 for line in lines)
    assert sorted("".join("".join(lines).split())) == sorted(
        "".join("".join("".join(row) for row in rows).split())
    )


def test_a_table_of_nothing_is_nothing():
    assert table([]) == []


def test_only_the_widest_column_of_a_table_wraps():
    rows = [("min", "2.88", "a long text about the density")]
    assert table(rows, 25) == [
        "min  2.88  a long text",
        "           about the",
        "           density",
    ]
