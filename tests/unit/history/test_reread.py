"""A negative written into rows and read back is the one that was written."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.history import FiledSheet, as_read
from gatekeeper.history.reread import PATCH, PastFilm
from gatekeeper.history.rows import negative_rows, reading_rows
from gatekeeper.sheet import (
    NOWHERE,
    Bound,
    Moment,
    Negative,
    Number,
    Patch,
    PatchKind,
    Sheet,
    SheetKind,
    Text,
    ZeroedOn,
)


def back(negative):
    """Return the negative through the rows that the history would keep of it."""
    sheet = Sheet(SheetKind.NEGATIVE, (negative,))
    filed = FiledSheet("1041.csv", sheet, as_read(sheet))
    (head,) = negative_rows("north", filed, "t001")
    rows = reading_rows("north", filed)
    patches = tuple(tuple(row[name] for name in PATCH) for row in rows)
    return PastFilm(json.loads(head["particulars"]), patches).negative


def told(negative):
    """Return what a check can see: not the places in the file, nor how a date was written."""

    def plain(value):
        if isinstance(value, Text):
            return value.value
        if isinstance(value, Number):
            return value.value, value.bound
        if isinstance(value, Moment):
            return value.instant, value.has_time
        return value

    head = {name: plain(getattr(negative, name)) for name in Negative.__slots__[:-1]}
    patches = [
        {name: plain(getattr(patch, name)) for name in Patch.__slots__ if name != "trace"}
        for patch in negative.patches
    ]
    return head, patches


def test_negative_of_every_kind_of_value_comes_back(make):
    assert told(back(make.NEGATIVE)) == told(make.NEGATIVE)


def test_dates_keep_their_zone_and_whether_they_had_a_time():
    instant = datetime(2026, 11, 20, 9, 40, tzinfo=timezone(timedelta(hours=1)))
    negative = Negative(
        printed=Moment(instant, "2026-11-20 09:40", has_time=True),
        film_made=Moment(datetime(2026, 5, 11, tzinfo=UTC), "2026-05-11", has_time=False),
        zeroed_on=ZeroedOn.AIR,
    )
    found = back(negative)
    assert found.printed.instant == instant
    assert found.printed.instant.utcoffset() == timedelta(hours=1)
    assert (found.printed.has_time, found.film_made.has_time) == (True, False)
    assert found.zeroed_on is ZeroedOn.AIR


@pytest.mark.parametrize("bound", Bound)
def test_reading_that_is_only_a_bound_stays_one(bound):
    patch = Patch(PatchKind.SOLID, density=Number(4.0, "> 4.0", bound=bound))
    assert back(Negative(patches=(patch,))).patches[0].density.bound is bound


def test_particulars_of_a_later_version_are_left_out():
    assert PastFilm({"job": "1", "of_a_later_version": "x"}).negative == Negative(job=Text("1"))


numbers = st.floats(-5, 5) | st.floats(allow_nan=False, allow_infinity=False)
number = st.builds(Number, numbers, st.just(""), st.just(NOWHERE), st.sampled_from(Bound))
exact = st.builds(Number, numbers, st.just(""))
words = st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1, max_size=9)
patch = st.builds(
    Patch,
    kind=st.sampled_from(PatchKind),
    nominal=st.none() | exact,
    density=st.none() | number,
    length_mm=st.none(),
    where=words,
    name=words,
)


@given(st.lists(patch, max_size=4).map(tuple), words, st.none() | exact)
def test_whatever_was_read_comes_back(patches, word, ruling):
    negative = Negative(job=Text(word), ruling_lpi=ruling, patches=patches)
    assert told(back(negative)) == told(replace(negative))
