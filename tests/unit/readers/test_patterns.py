import pytest

from gatekeeper.readers.patterns import UnsafePatternError, check, cuts_a_number


@pytest.mark.parametrize(
    "pattern",
    [
        r"^(?P<patch>\w+)\s+(?P<density>[-+0-9.,]+)$",
        r"^T(?P<nominal>\d+)$",
        r"(?:Job|Lot) (\S+)",
        r"[)(+*]+ x",
        r"\(a+\)+",
        r"(ab+){2}",
        r"(a|b)?c",
        r"^# export",
    ],
)
def test_usual_patterns_are_taken(pattern):
    assert check(pattern).pattern == pattern


@pytest.mark.parametrize(
    ("pattern", "says"),
    [
        (r"(a+)+$", "repeats a group"),
        (r"(a*)*", "repeats a group"),
        (r"(?:a|a)*b", "repeats a group"),
        (r"((ab?)c)+", "repeats a group"),
        (r"([ab]+x){3,}", "repeats a group"),
        (r"(?P<x>\d+){1,999}", "repeats a group"),
        (r".*a.*b.*c.*d", "more than 3 repeats of anything"),
        (r"(unclosed", "no pattern"),
        (r"*", "no pattern"),
        (r"a{2,1}", "no pattern"),
    ],
)
def test_patterns_that_can_run_for_ever_or_do_not_compile_are_refused(pattern, says):
    with pytest.raises(UnsafePatternError, match=says):
        check(pattern)


@pytest.mark.parametrize(
    ("text", "part", "cut"),
    [
        ("D=2,91", "2", True),
        ("D=2.91", "91", True),
        ("D=2.91 ok", "2.91", False),
        ("D=-0.02", "0.02", True),
        ("D>4.5", "4.5", True),
        ("D=12", "2", True),
        ("T50 solid", "50", False),
        ("left, 2.91", "2.91", False),
        ("2.91, left", "2.91", False),
        ("2.91.", "2.91", False),
        ("solid", "sol", False),
        ("OL", "OL", False),
    ],
)
def test_a_group_that_ends_inside_a_number_is_noticed(text, part, cut):
    start = text.index(part)
    assert cuts_a_number(text, start, start + len(part)) is cut
