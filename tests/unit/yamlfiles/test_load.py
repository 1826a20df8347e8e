"""Bytes of a YAML file into nodes: text stays as written, and every place is the right one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.yamlfiles.load import MAX_BYTES, CannotRead, load, parse
from gatekeeper.yamlfiles.places import BrokenFilesError, Place, Scalar, Series, Table


def names(content):
    with pytest.raises(BrokenFilesError) as refused:
        load(content, "x.yaml")
    return [problem.name for problem in refused.value.problems]


@pytest.mark.parametrize(
    "written", ["1e-3", "14:30", "010", "on", "no", "1_000", "1,5", "2026-11-20", ".nan", "0x1F"]
)
def test_scalar_stays_the_text_that_was_written(written):
    assert load(f"key: {written}\n".encode(), "x.yaml").entries["key"].text == written


@pytest.mark.parametrize("written", ["on", "no", "010", "1e-3", "14:30"])
def test_key_stays_the_text_that_was_written(written):
    assert list(load(f"{written}: 1\n".encode(), "x.yaml").entries) == [written]


@pytest.mark.parametrize("nothing", ["", "~", "null", "Null", "NULL", "# only a comment"])
def test_nothing_behind_a_key_is_nothing(nothing):
    assert load(f"key: {nothing}\n".encode(), "x.yaml").entries["key"].text is None


@pytest.mark.parametrize("text", ["~", "null", ""])
def test_nothing_in_quotes_is_text(text):
    assert load(f'key: "{text}"\n'.encode(), "x.yaml").entries["key"].text == text


def test_every_node_knows_its_place():
    table = load(b"a: 1\nb:\n  - {c: 2}\n", "x.yaml")
    series = table.entries["b"]
    inner = series.items[0]
    assert table.place == Place("x.yaml", 1, 1)
    assert (table.key_places["b"].exact, series.place.exact) == ("x.yaml:2:1", "x.yaml:3:3")
    assert (inner.place.exact, inner.key_places["c"].exact) == ("x.yaml:3:5", "x.yaml:3:6")
    assert inner.entries["c"] == Scalar("2", Place("x.yaml", 3, 9))
    assert isinstance(series, Series)
    assert isinstance(inner, Table)


def test_every_place_carries_its_line():
    table = load(b"a: 1\r\nb: 2  # why\r\n", "x.yaml")
    assert table.entries["b"].place.text == "b: 2  # why"


def test_lines_are_counted_as_the_parser_counts_them():
    text = "a: one\x85b: two\u2028c: three\n"
    table = load(text.encode(), "x.yaml")
    assert table.entries["c"].place.line == 3
    assert table.entries["c"].place.text == "c: three"


def test_byte_order_mark_is_no_part_of_the_first_key():
    assert list(load(b"\xef\xbb\xbfa: 1\n", "x.yaml").entries) == ["a"]


def test_byte_order_mark_inside_is_refused():
    assert names("a: 1\n\ufeffb: 2\n".encode()) == ["odd-character"]


def test_large_file_is_refused_before_it_is_read():
    assert load(b"a: 1\n" + b"#" * (MAX_BYTES - 5), "x.yaml").entries["a"].text == "1"
    assert names(b"#" * (MAX_BYTES + 1)) == ["file-too-large"]


def test_file_that_cannot_be_opened_says_why():
    with pytest.raises(BrokenFilesError, match="cannot be read: Permission denied"):
        load(CannotRead("Permission denied"), "x.yaml")


def test_depth_that_no_file_needs_is_refused_and_less_is_not():
    assert load(b"a: " + b"[" * 11 + b"]" * 11, "x.yaml").entries
    assert names(b"a: " + b"[" * 12 + b"]" * 12) == ["too-deep"]
    assert names(b"[" * 200_000)[0] in {"too-deep", "not-yaml"}  # the parser may be the first


def test_depth_is_counted_down_again():
    assert len(load(b"".join(b"k%d: [[[[[[]]]]]]\n" % n for n in range(20)), "x").entries) == 20


def test_aliases_are_refused_before_anything_follows_them():
    laughs = b"a: &a [x, x]\n" + b"".join(
        b"%c: &%c [*%c, *%c]\n" % (n, n, n - 1, n - 1) for n in range(ord("b"), ord("k"))
    )
    assert set(names(laughs)) == {"anchor"}


def test_keys_that_cannot_be_used_do_not_hide_the_rest_of_the_file():
    table, problems = parse(b"a: 1\na: 2\n<<: {x: 1}\nb: 3\n", "x.yaml")
    assert [problem.name for problem in problems] == ["key-twice", "merge-key"]
    assert {key: node.text for key, node in table.entries.items()} == {"a": "1", "b": "3"}


def test_what_stands_below_a_repeated_key_is_looked_at_too():
    _, problems = parse(b"a: 1\na: {b: 1, b: 2}\n", "x.yaml")
    assert {problem.place.exact for problem in problems} == {"x.yaml:2:1", "x.yaml:2:11"}


def test_merge_sign_in_quotes_is_a_key():
    assert list(load(b'"<<": 1\n', "x.yaml").entries) == ["<<"]


def test_tag_of_a_block_is_refused():
    assert names(b"a: !!map {b: 1}\n") == ["tag"]


def test_one_document_may_begin_with_dashes_and_end_with_dots():
    assert list(load(b"---\na: 1\n...\n", "x.yaml").entries) == ["a"]


def assert_table_or_problem(content):
    try:
        table, problems = parse(content, "x.yaml")
    except BrokenFilesError as error:
        table, problems = None, error.problems
        assert problems
    assert table is None or isinstance(table, Table)
    for problem in problems:
        assert min(problem.place.line, problem.place.column) >= 1
        assert str(problem)


@given(st.binary(max_size=60))
def test_any_bytes_are_a_table_or_a_problem_with_a_place(content):
    assert_table_or_problem(content)


@given(st.text("ab:-[]{}&*!|>'\"%@#,? \n\t~", max_size=40))
def test_any_scribble_of_yaml_signs_is_a_table_or_a_problem(text):
    assert_table_or_problem(text.encode())
