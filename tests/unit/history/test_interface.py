import subprocess
import sys
from pathlib import Path

import pytest

from gatekeeper.history import as_read, job_key
from gatekeeper.history.canonical import canonical, storable, utc_text
from gatekeeper.history.interface import home_of

ROOT = Path(__file__).parents[3]


def test_importing_the_package_loads_no_database_library():
    code = "import sys, gatekeeper.history; print('sqlalchemy' in sys.modules)"
    done = subprocess.run(  # noqa: S603 -- our own interpreter and code
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("1041", " 1041 "),
        ("Straße 7", "STRASSE  7"),
        ("M\u00fcller", "Mu\u0308ller"),  # composed and decomposed
        ("\u1e9e", "ss"),  # Unicode CaseFolding.txt: 1E9E; F; 0073 0073
    ],
)
def test_spellings_of_one_job_have_one_key(one, other):
    assert job_key(one) == job_key(other)


def test_different_jobs_have_different_keys():
    assert job_key("1041") != job_key("1041.2") != job_key("10412")


def test_a_job_keeps_its_home_when_it_moves():
    assert home_of("approved/liquid-plate/1041") == home_of("held/liquid-plate/1041")
    assert home_of("held/liquid-plate/1041") != home_of("held/unsorted/1041")


def test_a_sheet_as_read_has_every_patch_in_order(make):
    readings = as_read(make.SHEET)
    assert tuple(reading.patch for reading in readings) == make.NEGATIVE.patches
    assert {reading.negative for reading in readings} == {0}


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("plain", "plain"),
        ("größer", "größer"),
        ("caf\udce9.csv", "caf\\udce9.csv"),
        ("a\0b", "a\\x00b"),
        ("", ""),
    ],
)
def test_what_no_database_takes_is_kept_as_an_escape(text, kept):
    assert storable(text) == kept
    assert storable(kept) == kept


def test_equal_facts_have_equal_bytes():
    assert canonical({"b": 1.5, "a": ("ü",)}) == '{"a":["\\u00fc"],"b":1.5}'


def test_a_number_that_is_none_is_not_sealed():
    with pytest.raises(ValueError, match="not JSON compliant"):
        canonical(float("nan"))


def test_a_moment_without_a_zone_is_refused(clock):
    with pytest.raises(ValueError, match="2026"):
        utc_text(clock.now().replace(tzinfo=None))
