"""Everything the administrator wrote, read at one moment: what is broken, and who waits for it."""

import pytest

from gatekeeper.errors import UsageError
from gatekeeper.room import (
    book_of,
    check_book,
    declarations_of,
    read_book,
    roots_of,
    rules_of,
    situation_of,
)
from gatekeeper.site import read_site
from gatekeeper.yamlfiles.load import CannotRead
from gatekeeper.yamlfiles.places import FileProblem, Place

LIQUID = b"workflow: liquid-plate\nreading: negative\nsolid_density: {min: 2.70}\n"
METERS = b"meters: {T-04: {calibrated: 2026-09-01}}\n"
STOCKS = b"stocks: {matte-5mil: {kind: ink film}}\n"
LOTS = b"lots: {M5: {stock: matte-5mil}}\n"
PROFILE = b"""\
profile: bench
recognise: {columns: [Patch, D]}
columns: {patch: Patch, density: D}
"""
GOOD = {
    "workflows/liquid-plate.yaml": LIQUID,
    "register/meters.yaml": METERS,
    "register/stocks.yaml": STOCKS,
    "register/lots.yaml": LOTS,
    "readers/bench.yaml": PROFILE,
}


@pytest.fixture(params=["wait"])
def site(tmp_path, request):
    (tmp_path / "site.yaml").write_text(
        f"site: Ferrybank\ncode_page: cp850\non_broken_rules: {request.param}\n"
    )
    return read_site(tmp_path)


last_good_site = pytest.mark.parametrize("site", ["last_good"], indirect=True)


def told(problems):
    return [f"{problem.place} {problem.name}" for problem in problems]


def test_sound_site_has_a_book_without_problems(site):
    book = book_of(site, GOOD)
    assert book.problems == ()
    assert book.register.meter("t-04")
    assert [profile.profile for profile in book.profiles] == ["bench"]
    assert book.good_files() == GOOD


def test_files_are_read_from_the_folders_of_the_site(site):
    for name, content in GOOD.items():
        path = site.root / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
    assert read_book(site).files == GOOD


@pytest.mark.parametrize(
    ("name", "content", "problem"),
    [
        ("register/meters.yaml", b"meters: {T-04: {calibrated: soon}}\n", "not-a-date"),
        ("register/lots.yaml", b"lots: {M5: {stock: matte-9mil}}\n", "unknown-stock"),
        ("register/", CannotRead("Permission denied"), "unreadable-file"),
        ("readers/bench.yaml", b"profile: bench\n", "missing-key"),
        ("readers/bench.yaml", CannotRead("Permission denied"), "unreadable-file"),
    ],
)
def test_broken_register_or_profile_makes_every_job_wait(site, name, content, problem):
    book = book_of(site, {**GOOD, name: content})
    assert [entry.name for entry in book.for_all] == [problem]
    situation = situation_of(site, book)
    assert situation.blocks("liquid-plate") == book.for_all
    assert book.problems == book.for_all


def test_broken_register_is_no_reason_to_call_the_stocks_of_rules_unknown(site):
    rules = LIQUID + b"film: {stocks: [matte-5mil]}\n"
    broken = {
        "workflows/liquid-plate.yaml": rules,
        "register/stocks.yaml": b"stocks: {x: {}}\n",
        "register/more.yaml": b"stocks: {matte-8mil: {kind: ink film}}\n",
    }
    problems = book_of(site, {**GOOD, **broken}).problems
    assert {problem.place.file.partition("/")[0] for problem in problems} == {"register"}
    assert problems[-1].name == "missing-key"


def test_rules_are_held_against_the_register(site):
    rules = {"workflows/liquid-plate.yaml": LIQUID + b"film: {stocks: [matte-9mil]}\n"}
    assert told(book_of(site, {**GOOD, **rules}).problems) == [
        "workflows/liquid-plate.yaml:4 unknown-stock"
    ]


def test_broken_site_file_makes_every_job_wait(site):
    problem = FileProblem(Place("site.yaml", 3, 1), "unknown-key", "w", "d")
    book = book_of(site, GOOD, GOOD, (problem,))
    assert (book.for_all, book.problems) == ((problem,), (problem,))


def test_last_good_files_are_not_asked_where_the_site_says_wait(site):
    book = book_of(site, {**GOOD, "register/meters.yaml": b"[\n"}, GOOD)
    assert book.for_all
    assert book.library.effective("liquid-plate", "").notes == ()


@last_good_site
def test_last_good_register_is_in_force_and_every_report_says_so(site):
    book = book_of(site, {**GOOD, "register/meters.yaml": b"meters: {T-04: {}}\n"}, GOOD)
    assert book.for_all == ()
    assert told(book.problems) == ["register/meters.yaml:1 missing-key"]
    assert book.register.meter("T-04")
    assert book.library.effective("liquid-plate", "").notes == (
        "the last good register/meters.yaml is in force, because register/meters.yaml:1 is broken",
    )


@last_good_site
def test_last_good_profile_is_in_force(site):
    book = book_of(site, {**GOOD, "readers/bench.yaml": b"profile: bench\n"}, GOOD)
    assert (book.for_all, len(book.profiles), len(book.overruled)) == ((), 1, 1)


@last_good_site
def test_last_good_site_file_is_in_force(site):
    problem = FileProblem(Place("site.yaml", 3, 1), "unknown-key", "w", "d")
    book = book_of(site, GOOD, GOOD, (problem,))
    assert (book.for_all, book.overruled) == ((), (problem,))
    assert "site.yaml:3" in book.library.effective("liquid-plate", "").notes[0]


@last_good_site
@pytest.mark.parametrize("last_good", [{}, {"register/meters.yaml": b"meters: {T-04: {}}\n"}])
def test_register_that_was_never_good_makes_every_job_wait_even_so(site, last_good):
    book = book_of(site, {**GOOD, "register/meters.yaml": b"meters: {T-04: {}}\n"}, last_good)
    assert told(book.for_all) == ["register/meters.yaml:1 missing-key"]


def test_files_that_name_one_another_are_good_or_doubtful_together(site):
    broken = {**GOOD, "register/lots.yaml": b"lots: {M5: {stock: matte-9mil}}\n"}
    kept = book_of(site, broken).good_files()
    assert set(kept) == {"workflows/liquid-plate.yaml", "readers/bench.yaml"}


def test_both_files_of_rules_that_do_not_go_together_are_doubtful(site):
    customer = b"customer: C\nall_workflows: {solid_density: {max: 2.5}}\n"
    book = book_of(site, {**GOOD, "customers/c.yaml": customer})
    assert "workflows/liquid-plate.yaml" not in book.good_files()
    assert "customers/c.yaml" not in book.good_files()


def test_gate_and_readers_hear_what_the_site_declares(site):
    book = book_of(site, GOOD)
    declared = declarations_of(site, book.profiles)
    assert (declared.code_page, declared.max_bytes) == ("cp850", 4_000_000)
    assert declared.profiles == book.profiles
    assert roots_of(site).held == site.held
    assert situation_of(site, book).register is book.register


def test_site_that_cannot_be_read_is_checked_as_far_as_it_goes(tmp_path):
    (tmp_path / "workflows").mkdir()
    (tmp_path / "workflows/w.yaml").write_text("workflow: w\n")
    (tmp_path / "site.yaml").write_text("sight: Ferrybank\n")
    told_of = {(entry.place.file, entry.name) for entry in check_book(tmp_path).problems}
    assert told_of == {
        ("site.yaml", "unknown-key"),
        ("site.yaml", "missing-key"),
        ("workflows/w.yaml", "missing-key"),
    }
    (tmp_path / "site.yaml").write_text("site: Ferrybank\n")
    assert told(check_book(tmp_path).problems) == ["workflows/w.yaml:1 missing-key"]


def test_rules_that_a_person_names_are_found_or_the_nearest_name_is(site):
    book = book_of(site, GOOD)
    assert rules_of(book, "liquid-plate", "").workflow == "liquid-plate"
    with pytest.raises(UsageError) as refused:
        rules_of(book, "liquid-plat", "")
    assert refused.value.do == 'the nearest known one is "liquid-plate"'
