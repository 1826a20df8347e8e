"""Places, the mark under a line, and how problems sort."""

import pytest

from gatekeeper.yamlfiles.places import (
    WIDEST,
    BrokenFilesError,
    FileProblem,
    Place,
    Scalar,
    Series,
    Table,
    leaves,
    to_plain,
)


def test_place_is_shown_for_people_and_for_editors():
    place = Place("workflows/x.yaml", 3, 7)
    assert (str(place), place.exact) == ("workflows/x.yaml:3", "workflows/x.yaml:3:7")


def test_mark_stands_under_the_column():
    assert Place("x", 1, 5, "min: 2,70").marked() == ["min: 2,70", "    ^"]


@pytest.mark.parametrize("text", ["", "   "])
def test_empty_line_has_no_mark(text):
    assert Place("x", 1, 1, text).marked() == []


def test_tab_counts_as_one_column_where_the_mark_is():
    assert Place("x", 1, 3, "a:\tb").marked() == ["a: b", "  ^"]


def test_wide_letters_push_the_mark():
    assert Place("x", 1, 4, "厚紙: x").marked() == ["厚紙: x", "     ^"]


def test_long_line_is_cut_around_the_mark():
    line = "a" * 200 + "X" + "b" * 200
    shown, mark = Place("x", 1, 201, line).marked()
    assert len(shown) == WIDEST
    assert shown[mark.index("^")] == "X"
    assert shown.endswith("…")


def test_mark_behind_the_end_of_a_line_is_shown():
    assert Place("x", 1, 6, "a: b").marked() == ["a: b", "    ^"]


def test_line_with_controls_is_made_safe():
    assert Place("x", 1, 1, "a: \x1b[31m").marked()[0] == "a: ?[31m"


def test_problem_is_shown_as_what_where_and_what_to_do():
    problem = FileProblem(Place("x.yaml", 2, 4, "a: b"), "odd", "it is odd", "even it")
    assert str(problem) == (
        "odd: it is odd\n  where  x.yaml:2:4\n         a: b\n            ^\n  do     even it"
    )


def test_problem_without_a_line_is_shown_without_one():
    assert str(FileProblem(Place("x.yaml", 2, 4), "odd", "it is odd", "even it")) == (
        "odd: it is odd\n  where  x.yaml:2:4\n  do     even it"
    )


def test_problems_of_an_error_are_sorted_by_place_and_all_in_its_message():
    later = FileProblem(Place("b", 1, 1), "n", "later", "d")
    first = FileProblem(Place("a", 9, 1), "n", "first", "d")
    error = BrokenFilesError([later, first])
    assert error.problems == (first, later)
    assert error.what.index("first") < error.what.index("later")


def test_problems_in_one_place_are_two():
    place = Place("a", 1, 1)
    assert len({FileProblem(place, "n", "one", "d"), FileProblem(place, "n", "two", "d")}) == 2


def test_line_text_does_not_tell_places_apart():
    assert Place("a", 1, 1, "x") == Place("a", 1, 1, "y")
    assert hash(Place("a", 1, 1, "x")) == hash(Place("a", 1, 1, "y"))


def test_leaves_are_values_with_their_path_and_lists_are_one_value():
    at = Place("x", 1, 1)
    inner = Table({"c": Series((Scalar("1", at),), at)}, {"c": at}, at)
    table = Table({"a": Scalar("2", at), "b": inner}, {"a": at, "b": at}, at)
    assert [path for path, _ in leaves(table)] == [("a",), ("b", "c")]
    assert to_plain(table) == {"a": "2", "b": {"c": ["1"]}}
