"""A record is one line, whatever stands in it."""

import logging
import shlex
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.logs import fields
from gatekeeper.logs.lines import LONGEST_MESSAGE, KeyValue


def record(message, *args, level=logging.INFO, error=None, **named):
    made = logging.LogRecord("gatekeeper.attendant", level, "x.py", 1, message, args, error)
    made.__dict__.update(fields(**named))
    made.created = 1764000191.25  # 2025-11-24T16:03:11.25Z, by date(1) -u -d @1764000191
    return made


def line(message, *args, **named):
    return KeyValue().format(record(message, *args, **named))


def read_back(text):
    """Return the pairs of a line, each taken apart by the rules of a shell."""
    return dict(word.partition("=")[::2] for word in shlex.split(text))


def test_line_of_a_job_has_its_fields():
    assert line("%s held", "1044", job="1044", workflow="liquid-plate", verdict="held") == (
        "at=2025-11-24T16:03:11.250+00:00 level=info from=attendant job=1044 "
        'workflow=liquid-plate verdict=held message="1044 held"'
    )


def test_field_without_a_value_is_left_out():
    assert "customer" not in line("x", customer="")


def test_job_named_like_a_line_of_its_own_makes_no_line_of_its_own():
    forged = "9\nat=2026-11-24T00:00:00 level=info job=1 verdict=approved"
    text = line("%s held", forged, job=forged)
    assert len(text.splitlines()) == 1
    assert 'job="9\\nat=2026-11-24T00:00:00 level=info job=1 verdict=approved"' in text
    assert read_back(text).keys() == {"at", "level", "from", "job", "message"}


def test_quotes_and_backslashes_inside_do_not_end_a_value():
    text = line('x" verdict="approved\\', job='1" verdict="approved')
    assert read_back(text)["job"] == '1" verdict="approved'
    assert read_back(text)["message"] == 'x" verdict="approved\\'


@pytest.mark.parametrize(
    ("character", "shown"),
    [
        ("\r", "\\r"),
        ("\x1b", "\\u001b"),
        ("\x85", "\\u0085"),
        ("\u2028", "\\u2028"),
        ("\u202e", "\\u202e"),
        ("\udcff", "\\udcff"),
        ("\U000e0001", "\\U000e0001"),
    ],
)
def test_what_breaks_hides_or_cannot_be_encoded_is_written_as_an_escape(character, shown):
    text = line(f"a{character}b")
    assert text.endswith(f'message="a{shown}b"')
    text.encode("utf-8")


@given(st.text(), st.text())
def test_any_text_is_one_line_and_one_value(message, job):
    text = line("%s", message, job=job or "-")
    assert len(text.splitlines()) == 1
    assert read_back(text).keys() == {"at", "level", "from", "job", "message"}


def test_trace_stands_on_the_same_line():
    try:
        int("two\nlines")
    except ValueError:
        text = KeyValue().format(record("broke", error=sys.exc_info()))
    assert len(text.splitlines()) == 1
    assert 'trace="Traceback (most recent call last):\\n' in text
    assert "ValueError" in text


def test_endless_message_is_cut():
    assert len(line("x" * 100_000)) < LONGEST_MESSAGE + 200


def test_call_with_wrong_arguments_is_still_a_line():
    assert line("%s and %s", "one").endswith('message="%s and %s"')
