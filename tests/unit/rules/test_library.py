"""Who is governed by which file, and what a broken one does to whom."""

from datetime import date

import pytest
from shelves import FLOORS, LIQUID, QUILLMARK, REGISTER, SITE, STENCIL, library, told, values

from gatekeeper.rules.library import UnknownNameError
from gatekeeper.yamlfiles.load import CannotRead
from gatekeeper.yamlfiles.places import BrokenFilesError


def waits(shelf, workflow, customer=""):
    """Return the file that makes a job wait, empty when its rules are good."""
    try:
        shelf.effective(workflow, customer)
    except BrokenFilesError as error:
        return error.problems[0].place.file
    return ""


# -- layers -----------------------------------------------------------------------------------


def test_limit_comes_from_the_layer_laid_last_and_says_from_where():
    rules = library(floors=FLOORS).effective("liquid-plate", "Quillmark Cartons")
    origins = {limit.rule: (limit.value, limit.layer, limit.origin) for limit in rules.limits}
    assert origins["freshness.clock_tolerance_minutes"][1] == "built in"
    assert origins["solid_density.spots"][:2] == (1.0, "built in")
    assert origins["solid_density.spots"][2].startswith("defaults.yaml:")
    assert origins["solid_density.spread"] == (0.2, "workflow", "workflows/liquid-plate.yaml:5")
    assert origins["solid_density.min"] == (2.85, "customer", "customers/quillmark.yaml:7")
    assert origins["tints.50.tolerance"] == (1.5, "customer", "customers/quillmark.yaml:4")


def test_customer_for_all_workflows_reaches_a_workflow_without_a_block_of_its_own():
    rules = library().effective("stencil", "Quillmark Cartons")
    assert values(rules)["tints.50.tolerance"] == 1.5
    assert values(rules)["solid_density.min"] == 3.0


def test_block_for_one_workflow_lies_over_the_block_for_all():
    text = QUILLMARK + "    tints:\n      - {nominal: 50, tolerance: 1.2}\n"
    rules = library({"customers/quillmark.yaml": text}).effective(
        "liquid-plate", "quillmark cartons"
    )
    assert values(rules)["tints.50.tolerance"] == 1.2


def test_job_without_a_customer_has_the_limits_of_its_workflow():
    rules = library().effective("liquid-plate", "")
    assert (rules.customer, values(rules)["solid_density.min"]) == ("", 2.7)
    assert (rules.title, rules.reading, rules.dot_from) == (
        "Liquid photopolymer",
        "negative",
        "either",
    )


@pytest.mark.parametrize("nominal", ["50", "50.0", "5e1", "050"])
def test_tints_are_matched_by_nominal_however_it_is_written(nominal):
    text = f"customer: C\nall_workflows:\n  tints:\n    - {{nominal: {nominal}, tolerance: 1}}\n"
    rules = library({"customers/c.yaml": text}).effective("liquid-plate", "C")
    assert {rule for rule in values(rules) if rule.startswith("tints")} == {"tints.50.tolerance"}


@pytest.mark.parametrize("nominal", ["2.5", "50.00001", "33.333333333"])
def test_tints_that_differ_a_little_are_two(nominal):
    text = f"customer: C\nall_workflows:\n  tints:\n    - {{nominal: {nominal}, tolerance: 1}}\n"
    found = values(library({"customers/c.yaml": text}).effective("liquid-plate", "C"))
    assert (found[f"tints.{nominal}.tolerance"], found["tints.50.tolerance"]) == (1.0, 2.0)


def test_required_fields_add_up_and_lists_of_choices_are_replaced():
    text = "customer: C\nall_workflows: {required: [Operator, JOB], film: {stocks: matte-5mil}}\n"
    found = values(library({"customers/c.yaml": text}).effective("liquid-plate", "C"))
    assert {rule for rule in found if rule.startswith("required")} == {
        "required.job",
        "required.meter",
        "required.operator",
    }
    assert found["film.stocks"] == ("matte-5mil",)


def test_limits_stand_in_the_order_of_the_models():
    text = LIQUID.replace(
        "tints:\n",
        "tints:\n  - {nominal: 95, tolerance: 2}\n  - {nominal: 3, tolerance: 1}\n",
    )
    rules = library({"workflows/liquid-plate.yaml": text}).effective("liquid-plate", "")
    order = [limit.rule for limit in rules.limits]
    tints = [rule for rule in order if rule.startswith("tints")]
    assert tints == ["tints.3.tolerance", "tints.50.tolerance", "tints.95.tolerance"]
    wanted = ["required.job", "solid_density.min", "solid_density.spots", "solid_density.spread"]
    wanted += ["clear_density.max", "film.stocks", "screen.ruling_lpi.min", "screen.ruling_lpi.max"]
    assert [rule for rule in order if rule in wanted] == wanted


def test_section_that_nobody_uses_brings_no_default():
    assert not any(rule.startswith("film") for rule in values(library().effective("stencil", "")))


def test_file_that_only_names_a_customer_is_complete():
    shelf = library({"customers/p.yaml": "customer: Pennyroyal Preserves\n"})
    assert shelf.all_problems == ()
    rules = shelf.effective("liquid-plate", "PENNYROYAL  preserves")
    assert rules.customer == "Pennyroyal Preserves"
    assert values(rules) == values(shelf.effective("liquid-plate", ""))


def test_customers_are_listed_by_the_names_in_their_files():
    assert [entry.name for entry in library().customers.values()] == ["Quillmark Cartons"]


def test_customer_is_the_same_in_every_unicode_spelling():
    shelf = library({"customers/m.yaml": "customer: M\u00fcller\n"})
    assert shelf.effective("stencil", "MU\u0308LLER").customer == "M\u00fcller"


# -- names nobody knows -----------------------------------------------------------------------


def test_unknown_workflow_and_unknown_customer_are_the_fault_of_the_job():
    shelf = library()
    with pytest.raises(UnknownNameError) as refused:
        shelf.effective("liquid-plat", "")
    assert (refused.value.kind, refused.value.name) == ("workflow", "liquid-plat")
    assert refused.value.known == ("liquid-plate", "stencil")
    with pytest.raises(UnknownNameError) as refused:
        shelf.effective("stencil", "Quillmark")
    assert (refused.value.kind, refused.value.known) == ("customer", ("Quillmark Cartons",))


def test_unknown_workflow_is_not_broken():
    assert library().is_broken_for("liquid-plat") == ()


# -- broken files and whom they govern --------------------------------------------------------


def test_broken_workflow_makes_its_own_jobs_wait_and_no_others():
    shelf = library({"workflows/liquid-plate.yaml": LIQUID.replace("2.70", "2,70")})
    assert waits(shelf, "liquid-plate") == "workflows/liquid-plate.yaml"
    assert waits(shelf, "liquid-plate", "Quillmark Cartons") == "workflows/liquid-plate.yaml"
    assert waits(shelf, "stencil", "Quillmark Cartons") == ""
    assert told(shelf.is_broken_for("liquid-plate")) == [
        "workflows/liquid-plate.yaml:5 decimal-comma"
    ]
    assert shelf.is_broken_for("stencil") == ()


def test_broken_customer_makes_jobs_of_that_customer_wait_and_no_others():
    files = {
        "customers/quillmark.yaml": QUILLMARK.replace("2.85", "dense"),
        "customers/p.yaml": "customer: Pennyroyal Preserves\n",
    }
    shelf = library(files)
    assert waits(shelf, "liquid-plate", "quillmark cartons") == "customers/quillmark.yaml"
    assert waits(shelf, "stencil", "Quillmark  Cartons") == "customers/quillmark.yaml"
    assert waits(shelf, "stencil", "Pennyroyal Preserves") == ""
    assert waits(shelf, "stencil") == ""
    assert shelf.is_broken_for("liquid-plate") == ()


@pytest.mark.parametrize(
    "start",
    [
        "customer: Quillmark Cartons\n",
        "customer: Quillmark Cartons  # since 2019\n",
        "customer: 'Quillmark Cartons'\r\n",
        '# ours\ncustomer : "Quillmark Cartons"\n'.replace(" :", ":"),
        "\ufeffcustomer: QUILLMARK CARTONS\n",
    ],
)
def test_name_is_found_in_a_file_that_is_no_yaml(start):
    shelf = library({"customers/quillmark.yaml": start + "all_workflows: [\n"})
    assert waits(shelf, "stencil", "Quillmark Cartons") == "customers/quillmark.yaml"
    with pytest.raises(UnknownNameError):
        shelf.effective("stencil", "Somebody Else")


@pytest.mark.parametrize(
    "content",
    [
        "",
        "customr: Quillmark Cartons\n",
        "customer: [Quillmark]\n",
        'customer: "Quill\\x6dark Cartons"\nall_workflows: [\n',
        "customer: >-\n  Quillmark Cartons\nall_workflows: [\n",
        "customer: Quillmark Cartons".encode("utf-16"),
        b"customer: Quillmark Cart\xf6ns\n",
        CannotRead("Permission denied"),
    ],
)
def test_broken_file_without_a_name_may_be_that_of_anybody_unknown(content):
    shelf = library(
        {"customers/quillmark.yaml": content, "customers/p.yaml": "customer: Pennyroyal\n"}
    )
    assert waits(shelf, "stencil", "Quillmark Cartons") == "customers/quillmark.yaml"
    assert waits(shelf, "stencil", "Pennyroyal") == ""


def test_broken_workflow_without_a_name_makes_jobs_of_unknown_workflows_wait():
    shelf = library({"workflows/liquid-plate.yaml": "reading: negative\n"})
    assert waits(shelf, "liquid-plate") == "workflows/liquid-plate.yaml"
    assert waits(shelf, "stencil") == ""


def test_folder_that_cannot_be_listed_makes_everybody_unknown_wait():
    shelf = library({"workflows/": CannotRead("Permission denied"), "workflows/stencil.yaml": None})
    assert waits(shelf, "stencil") == "workflows/"
    assert waits(shelf, "liquid-plate") == ""
    assert told(shelf.all_problems) == ["workflows/:1 unreadable-file"]


def test_two_files_of_one_customer_make_that_customer_wait():
    shelf = library({"customers/zz-copy.yaml": "customer: quillmark cartons\n"})
    assert told(shelf.all_problems) == ["customers/zz-copy.yaml:1 name-twice"]
    assert waits(shelf, "stencil", "Quillmark Cartons") == "customers/zz-copy.yaml"


def test_two_files_of_one_workflow_make_its_jobs_wait():
    shelf = library({"workflows/zz-copy.yaml": LIQUID})
    assert waits(shelf, "liquid-plate") == "workflows/zz-copy.yaml"
    assert waits(shelf, "stencil") == ""


def test_block_for_a_workflow_that_no_file_defines_breaks_the_customer():
    text = QUILLMARK.replace("liquid-plate:", "liquid-plat:")
    shelf = library({"customers/quillmark.yaml": text})
    assert told(shelf.all_problems) == ["customers/quillmark.yaml:6 unknown-workflow"]
    assert waits(shelf, "stencil", "Quillmark Cartons") == "customers/quillmark.yaml"


@pytest.mark.parametrize("broken", ["workflow: liquid-plate\nreading: [\n", "reading: [\n"])
def test_block_for_a_workflow_whose_file_is_broken_is_no_mistake(broken):
    shelf = library({"workflows/liquid-plate.yaml": broken})
    assert {problem.place.file for problem in shelf.all_problems} == {"workflows/liquid-plate.yaml"}
    assert waits(shelf, "stencil", "Quillmark Cartons") == ""


# -- rules that do not go together ------------------------------------------------------------


def test_limits_of_two_layers_that_cross_stop_just_the_jobs_that_they_meet_in():
    text = "customer: Ottershaw\nworkflows: {liquid-plate: {screen: {ruling_lpi: {min: 133}}}}\n"
    shelf = library({"customers/o.yaml": text})
    assert told(shelf.all_problems) == ["customers/o.yaml:2 limits-cross"]
    assert waits(shelf, "liquid-plate", "Ottershaw") == "customers/o.yaml"
    assert waits(shelf, "stencil", "Ottershaw") == ""
    assert waits(shelf, "liquid-plate") == ""
    assert waits(shelf, "liquid-plate", "Quillmark Cartons") == ""
    assert shelf.doubtful == {"customers/o.yaml", "workflows/liquid-plate.yaml"}


def test_crossing_is_told_at_the_line_of_the_later_layer_whichever_limit_it_is():
    text = "customer: O\nworkflows: {liquid-plate: {screen: {ruling_lpi: {max: 19}}}}\n"
    assert told(library({"customers/o.yaml": text}).all_problems) == [
        "customers/o.yaml:2 limits-cross"
    ]


def test_limits_that_meet_are_no_crossing():
    text = "customer: O\nworkflows: {liquid-plate: {screen: {ruling_lpi: {min: 115}}}}\n"
    assert library({"customers/o.yaml": text}).all_problems == ()


def test_problem_in_the_site_file_stops_the_jobs_that_it_governs():
    shelf = library(
        {"workflows/stencil.yaml": "workflow: stencil\nreading: positive\n"},
        floors="solid_density: {spread: 0.3}\n",
    )
    assert told(shelf.all_problems) == ["site.yaml:1 no-main-limit"]
    assert waits(shelf, "stencil") == "site.yaml"
    assert waits(shelf, "liquid-plate") == ""


def test_problem_that_meets_every_customer_is_told_once():
    shelf = library({"workflows/stencil.yaml": STENCIL.replace("3.00", "2.40")}, floors=FLOORS)
    assert told(shelf.all_problems) == ["workflows/stencil.yaml:3 looser-than-floor"]


@pytest.mark.parametrize(
    ("asked", "is_looser"),
    [("[mid-tone]", True), ("[solid, clear]", True), ("[clear, Solid, mid-tone]", False)],
)
def test_what_holds_on_a_signal_may_grow_and_not_shrink_below_the_floor(asked, is_looser):
    text = STENCIL + f"control: {{hold_on: {asked}}}\n"
    shelf = library(
        {"workflows/stencil.yaml": text}, floors="control: {hold_on: [mid-tone, solid]}\n"
    )
    assert told(shelf.all_problems) == (
        ["workflows/stencil.yaml:4 looser-than-floor"] if is_looser else []
    )


def test_several_problems_of_one_pair_are_all_told():
    text = STENCIL.replace("3.00", "2.40") + "screen: {ruling_lpi: {min: 65, max: 45}}\n"
    shelf = library({"workflows/stencil.yaml": text}, floors=FLOORS)
    assert told(shelf.all_problems) == [
        "workflows/stencil.yaml:3 looser-than-floor",
        "workflows/stencil.yaml:4 limits-cross",
    ]


# -- floors -----------------------------------------------------------------------------------


def test_floor_is_a_limit_where_nobody_sets_one():
    rules = library(floors=FLOORS).effective("stencil", "")
    limits = {limit.rule: limit for limit in rules.limits}
    assert limits["tints.50.tolerance"].value == 3.0
    assert limits["tints.50.tolerance"].layer == "site floor"
    assert limits["tints.50.tolerance"].origin == "site.yaml:3"


def test_floor_of_a_section_that_nobody_uses_brings_the_defaults_of_the_section():
    found = values(library(floors="clear_density: {max: 0.12}\n").effective("stencil", ""))
    assert (found["clear_density.max"], found["clear_density.spots"]) == (0.12, 1.0)


def test_customer_may_loosen_the_workflow_down_to_the_floor_and_no_further():
    text = "customer: C\nall_workflows: {{solid_density: {{min: {}}}}}\n"
    good = library({"customers/c.yaml": text.format("2.50")}, floors=FLOORS)
    assert values(good.effective("liquid-plate", "C"))["solid_density.min"] == 2.5
    bad = library({"customers/c.yaml": text.format("2.4999")}, floors=FLOORS)
    assert waits(bad, "liquid-plate", "C") == "customers/c.yaml"
    (problem,) = bad.all_problems
    assert problem.place.exact == "customers/c.yaml:2:38"
    assert "2.4999 density" in problem.what
    assert "2.5 density (site.yaml:1)" in problem.what


def test_workflow_may_not_loosen_a_floor_even_where_a_customer_would_mend_it():
    files = {"workflows/liquid-plate.yaml": LIQUID.replace("2.70", "2.00")}
    shelf = library(files, floors=FLOORS)
    assert waits(shelf, "liquid-plate") == "workflows/liquid-plate.yaml"
    assert waits(shelf, "liquid-plate", "Quillmark Cartons") == ""  # theirs is 2.85


@pytest.mark.parametrize(
    ("floor", "stated", "is_good"),
    [
        ("film: {stocks: [a, B]}", "film: {stocks: [A]}", True),
        ("film: {stocks: [a, b]}", "film: {stocks: [a, b, c]}", False),
        ("screen: {resolution_dpi: [720.0, 1440]}", "screen: {resolution_dpi: 720}", True),
        ("screen: {resolution_dpi: [720]}", "screen: {resolution_dpi: [720.0000001]}", False),
        ("clear_density: {max: 0.1}", "clear_density: {max: 0.05}", True),
        ("clear_density: {max: 0.1}", "clear_density: {max: 0.11}", False),
        ("required: [job, meter]", "required: [operator]", True),
        ("screen: {min_grey_levels: 64}", "screen: {min_grey_levels: 32}", False),
    ],
)
def test_each_kind_of_limit_has_its_own_stricter_way(floor, stated, is_good):
    text = f"workflow: w\nreading: negative\n{stated}\n"
    shelf = library({"workflows/w.yaml": text, **dict.fromkeys(SITE)}, floors=floor)
    assert (shelf.all_problems == ()) is is_good


# -- what the room owns -----------------------------------------------------------------------


def test_rules_that_the_register_answers_to_are_good():
    assert library(register=REGISTER).all_problems == ()


def test_room_without_a_register_is_not_asked():
    assert library(register="meters:\n  T-04: {calibrated: 2026-09-01}\n").all_problems == ()


def test_stock_that_no_register_knows_stops_the_workflow():
    text = LIQUID.replace("matte-8mil", "matte-9mil")
    shelf = library({"workflows/liquid-plate.yaml": text}, register=REGISTER)
    assert waits(shelf, "liquid-plate") == "workflows/liquid-plate.yaml"
    assert shelf.all_problems[0].place.exact == "workflows/liquid-plate.yaml:9:29"
    assert shelf.all_problems[0].do == 'the nearest known one is "matte-8mil"'


def test_filter_is_not_asked_for_while_a_meter_has_none_in_the_register():
    files = {"workflows/stencil.yaml": STENCIL + "meter: {filters: [blue]}\n"}
    two = REGISTER + "  T-05: {calibrated: 2026-09-01}\n"
    assert library(files, register=two).all_problems == ()
    assert told(library(files, register=REGISTER).all_problems) == [
        "workflows/stencil.yaml:4 unknown-filter"
    ]
    mixed = {"workflows/stencil.yaml": STENCIL + "meter: {filters: [blue, VISUAL]}\n"}
    assert library(mixed, register=REGISTER).all_problems == ()


@pytest.mark.parametrize(
    ("screen", "names"),
    [
        ("ruling_lpi: {max: 720}", []),
        ("ruling_lpi: {max: 721}", ["ruling-too-fine"]),
        ("ruling_lpi: {min: 120}, min_grey_levels: 145", []),  # (1440 / 120)^2 + 1
        ("ruling_lpi: {min: 120}, min_grey_levels: 146", ["too-many-levels"]),
        ("ruling_lpi: {max: 500}, resolution_dpi: [720]", ["ruling-too-fine"]),
        ("ruling_lpi: {min: 0}, min_grey_levels: 150", []),
        ("min_grey_levels: 150", []),
    ],
)
def test_screen_that_no_printer_holds_is_found(screen, names):
    files = {"workflows/stencil.yaml": f"{STENCIL}screen: {{{screen}}}\n"}
    problems = library(files, register=REGISTER).all_problems
    assert [problem.name for problem in problems] == names


def test_screen_is_not_asked_about_while_no_printer_says_what_it_prints():
    files = {"workflows/stencil.yaml": f"{STENCIL}screen: {{ruling_lpi: {{max: 900}}}}\n"}
    assert library(files, register="printers: {P1: {note: new}}\n").all_problems == ()


# -- changes with dates -----------------------------------------------------------------------

CHANGING = (
    STENCIL
    + """\
changes:
  - until: 2026-11-30
    solid_density: {spread: 0.40}
  - {effective_from: 2027-01-01, solid_density: {min: 3.40}}
  - effective_from: 2026-12-01
    until: 2026-12-31
    solid_density: {min: 3.20}
    tints: [{nominal: 40, tolerance: 2}]
"""
)


@pytest.mark.parametrize(
    ("day", "minimum", "spread", "tint"),
    [
        (date(2026, 11, 30), 3.0, 0.4, None),
        (date(2026, 12, 1), 3.2, None, 2.0),
        (date(2026, 12, 31), 3.2, None, 2.0),
        (date(2027, 1, 1), 3.4, None, None),
        (date(2036, 1, 1), 3.4, None, None),
    ],
)
def test_change_holds_from_its_first_day_to_its_last(day, minimum, spread, tint):
    shelf = library({"workflows/stencil.yaml": CHANGING}, today=day)
    found = values(shelf.effective("stencil", ""))
    assert found["solid_density.min"] == minimum
    assert found.get("solid_density.spread") == spread
    assert found.get("tints.40.tolerance") == tint


def test_limit_of_a_change_knows_its_own_line():
    shelf = library({"workflows/stencil.yaml": CHANGING}, today=date(2026, 12, 24))
    limit = shelf.effective("stencil", "").limit("solid_density", "min")
    assert (limit.origin, limit.layer) == ("workflows/stencil.yaml:10", "workflow")


def test_of_two_changes_the_one_begun_last_lies_on_top():
    text = STENCIL + (
        "changes:\n  - {effective_from: 2026-06-01, solid_density: {min: 3.6}}\n"
        "  - {effective_from: 2026-02-01, solid_density: {min: 3.3}}\n"
    )
    shelf = library({"workflows/stencil.yaml": text}, today=date(2026, 7, 1))
    assert values(shelf.effective("stencil", ""))["solid_density.min"] == 3.6


def test_customers_and_floors_change_on_dates_too():
    theirs = (
        "customer: C\nall_workflows:\n  solid_density: {min: 3.1}\n"
        "  changes: [{effective_from: 2026-12-01, solid_density: {min: 3.5}}]\n"
    )
    floors = "changes: [{until: 2026-11-30, tints: [{nominal: 50, tolerance: 3}]}]\n"

    def found(day):
        shelf = library({"customers/c.yaml": theirs}, floors=floors, today=day)
        return values(shelf.effective("stencil", "C"))

    before, after = found(date(2026, 11, 30)), found(date(2026, 12, 1))
    assert (before["solid_density.min"], before["tints.50.tolerance"]) == (3.1, 3.0)
    assert (after["solid_density.min"], "tints.50.tolerance" in after) == (3.5, False)


def test_fingerprint_changes_on_the_day_and_not_before():
    prints = {
        day: library({"workflows/stencil.yaml": CHANGING}, today=date(2026, 11, day)).fingerprints()
        for day in (1, 29, 30)
    }
    assert prints[1] == prints[29] == prints[30]
    after = library({"workflows/stencil.yaml": CHANGING}, today=date(2026, 12, 1)).fingerprints()
    changed = {pair for pair, fingerprint in after.items() if fingerprint != prints[1][pair]}
    assert changed == {("stencil", ""), ("stencil", "quillmark cartons")}


def test_what_will_be_broken_on_a_day_is_told_before_and_stops_nobody_until_then():
    floors = (
        "solid_density: {min: 2.5}\n"
        "changes: [{effective_from: 2027-01-01, solid_density: {min: 2.8}}]\n"
    )
    shelf = library(floors=floors, today=date(2026, 12, 31))
    (problem,) = shelf.all_problems
    assert problem.name == "looser-than-floor"
    assert problem.what.startswith("from 2027-01-01 on: solid_density.min: 2.7 density is looser")
    assert waits(shelf, "liquid-plate") == ""
    assert shelf.doubtful == set()
    assert waits(library(floors=floors, today=date(2027, 1, 1)), "liquid-plate") != ""


def test_what_is_broken_already_is_not_told_again_for_a_day_to_come():
    text = CHANGING.replace("min: 3.00", "min: 2.00")
    shelf = library({"workflows/stencil.yaml": text}, floors=FLOORS, today=date(2026, 11, 1))
    assert told(shelf.all_problems) == ["workflows/stencil.yaml:3 looser-than-floor"]


def test_days_to_come_on_which_rules_change_are_known():
    shelf = library({"workflows/stencil.yaml": CHANGING}, today=date(2026, 12, 1))
    assert shelf.days_of_change("stencil", "quillmark cartons") == [date(2027, 1, 1)]
    assert shelf.days_of_change("liquid-plate", "") == []


# -- the last good rules ----------------------------------------------------------------------


def test_broken_file_is_replaced_by_its_last_good_text_and_the_report_hears_of_it():
    files = {"workflows/liquid-plate.yaml": LIQUID.replace("2.70", "2,70")}
    shelf = library(files, last_good=SITE)
    rules = shelf.effective("liquid-plate", "Quillmark Cartons")
    assert values(rules)["solid_density.min"] == 2.85
    assert rules.notes == (
        "the last good rules are in force, because workflows/liquid-plate.yaml:5 is broken",
    )
    assert shelf.is_broken_for("liquid-plate") == ()
    assert told(shelf.all_problems) == ["workflows/liquid-plate.yaml:5 decimal-comma"]
    assert "liquid-plate" in shelf.workflows


def test_good_files_count_as_they_are_beside_a_broken_one():
    files = {
        "workflows/liquid-plate.yaml": LIQUID.replace("2.70", "2,70"),
        "workflows/stencil.yaml": STENCIL.replace("3.00", "3.30"),
    }
    rules = library(files, last_good=SITE).effective("stencil", "")
    assert (values(rules)["solid_density.min"], rules.notes) == (3.3, ())


def test_only_the_pair_that_does_not_go_together_falls_back():
    files = {"workflows/liquid-plate.yaml": LIQUID.replace("min: 20", "min: 45")}
    text = "customer: O\nworkflows: {liquid-plate: {screen: {ruling_lpi: {max: 30}}}}\n"
    good = {**SITE, "customers/o.yaml": text}
    shelf = library({**files, "customers/o.yaml": text}, last_good=good)
    assert values(shelf.effective("liquid-plate", ""))["screen.ruling_lpi.min"] == 45
    fallen_back = shelf.effective("liquid-plate", "O")
    assert values(fallen_back)["screen.ruling_lpi.min"] == 20
    assert len(fallen_back.notes) == 1


def test_file_that_was_never_good_makes_its_jobs_wait_even_so():
    shelf = library({"customers/new.yaml": "customer: New\nall_workflows: [\n"}, last_good=SITE)
    assert waits(shelf, "stencil", "New") == "customers/new.yaml"


def test_last_good_rules_that_are_looser_than_a_new_floor_do_not_count():
    files = {"workflows/stencil.yaml": STENCIL.replace("3.00", "two")}
    shelf = library(files, floors="solid_density: {min: 3.50}\n", last_good=SITE)
    assert waits(shelf, "stencil") == "workflows/stencil.yaml"


def test_without_problems_the_last_good_texts_are_not_even_read():
    broken = {"workflows/liquid-plate.yaml": "["}
    assert library(last_good=broken).all_problems == ()


def test_notes_for_everybody_stand_in_all_rules():
    rules = library(notes=("the register is an old one",)).effective("stencil", "")
    assert rules.notes == ("the register is an old one",)


def test_numbers_that_no_limit_can_have_are_told_beside_other_problems_of_a_file():
    twice = LIQUID.replace("tints:\n", "tints:\n  - {nominal: 50, tolerance: 9}\n")
    shelf = library({"workflows/liquid-plate.yaml": twice.replace("spread: 0.20", "spread: -0.20")})
    assert {problem.name for problem in shelf.all_problems} == {"nominal-twice", "out-of-range"}
