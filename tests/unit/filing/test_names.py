from __future__ import annotations

import unicodedata

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from gatekeeper.filing.names import (
    LONGEST,
    LONGEST_FILE,
    UNSORTED,
    caseless,
    folder_name,
    job_of,
    key_of,
    numbered,
    shelf_name,
    tidy,
)
from gatekeeper.history.interface import job_key

# Surrogates stand for bytes that are no text, as os.fsdecode gives them.
JOBS = st.text(st.characters(exclude_categories=()) | st.sampled_from("\udc80\udcff %/.-~"))
FORBIDDEN = set('/\\:*?"<>|\0')


def is_text(job: str) -> bool:
    """Whether every database can hold it as it is: no lone surrogates, no zero byte."""
    return "\0" not in job and not any(unicodedata.category(sign) == "Cs" for sign in job)


@given(JOBS.filter(is_text))
@example("")
@example("\0")
@example("%")
@example("%-")
@example("a%~b")
@example("COM1.txt")
@example("\uff41")
def test_folder_name_reads_back_as_the_job(job):
    name = folder_name(job)
    assert job_of(name) in {None, tidy(job)}
    assert (job_of(name) is None) == ("%~" in name)


@given(JOBS)
def test_folder_name_is_one_name_that_every_share_takes(job):
    name = folder_name(job)
    size = len(name.encode())
    assert 0 < size <= LONGEST
    assert not FORBIDDEN & set(name)
    assert name[0] not in ". -"
    assert name[-1] not in ". "
    assert name not in {".", ".."}
    assert all(ord(character) >= 32 for character in name)


@given(JOBS, JOBS)
@example("a/b", "a%2Fb")
@example("", "%00")
@example("", "\0")
@example("x" * 300, "x" * 301)
@example("A", "a")
def test_two_folders_that_a_share_would_fold_into_one_are_of_one_job(one, other):
    if caseless(folder_name(one)) == caseless(folder_name(other)):
        assert key_of(one) == key_of(other)


@given(JOBS.filter(is_text))
@example("İ")
@example("ǰ")
@example("ᾳͅ")
def test_key_is_the_one_by_which_the_history_knows_a_job(job):
    assert key_of(job) == job_key(job)


@given(JOBS)
def test_key_of_a_key_is_the_key(job):
    assert key_of(key_of(job)) == key_of(job)


@pytest.mark.parametrize("name", ["con", "NUL", "Com1", "lpt9.txt", "aux.", "COM²"])
def test_device_names_of_windows_are_escaped(name):
    assert folder_name(name).split(".", 1)[0].casefold() != name.split(".", 1)[0].casefold()


def test_long_job_is_cut_at_a_whole_escape_and_told_apart_by_its_digest():
    one, other = folder_name("/" * 100 + "a"), folder_name("/" * 100 + "b")
    assert one != other
    assert one.rpartition("%~")[0].count("%2F") * 3 == len(one.rpartition("%~")[0])


def test_shelf_of_no_workflow_is_not_that_of_a_workflow_of_its_name():
    assert shelf_name("") == UNSORTED
    assert shelf_name("liquid-plate") == "liquid-plate"
    assert caseless(shelf_name("Unsorted")) != UNSORTED
    assert job_of(shelf_name("unsorted")) == "unsorted"


@pytest.mark.parametrize(
    ("name", "number", "expected"),
    [
        ("1041.csv", 1, "1041.csv"),
        ("1041.csv", 2, "1041.2.csv"),
        ("job1.2.csv", 3, "job1.2.3.csv"),
        ("noending", 2, "noending.2"),
        (".hidden", 2, ".hidden.2"),
    ],
)
def test_number_stands_before_the_ending(name, number, expected):
    assert numbered(name, number) == expected


NAMES = st.binary(min_size=1, max_size=255).filter(lambda raw: not {0, 47} & set(raw))


@given(NAMES, st.integers(2, 99_999))
@example(b"x" * 251 + b".csv", 2)
@example("ü".encode() * 127, 10)
@example(b"." + b"x" * 254, 2)
@example(b"a." + b"x" * 253, 2)
def test_numbered_name_fits_and_differs_from_every_other(raw, number):
    name = raw.decode("utf-8", "surrogateescape")
    longer = numbered(name, number)
    assert len(longer.encode("utf-8", "surrogateescape")) <= LONGEST_FILE
    assert len({name, longer, numbered(name, number + 1)}) == 3
    assert "/" not in longer
