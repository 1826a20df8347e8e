"""A job ticket tightens limits for one job; what loosens or cannot be read is refused whole."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shelves import FLOORS, LIQUID, QUILLMARK, REGISTER, library, told, values

from gatekeeper.rules.job_ticket import MAX_BYTES, TicketError, added_up, is_ticket, read_ticket
from gatekeeper.yamlfiles.load import CannotRead

QUILL = ("liquid-plate", "Quillmark Cartons")


def ticket(text, name="1041.yaml", job="1041"):
    content = text.encode() if isinstance(text, str) else text
    return read_ticket(content, name, job)


def under(*texts, pair=QUILL, of=None, **more):
    names = ("1041.yaml", "1041-red.yaml", "1041-blue.yaml")
    layers = added_up(ticket(text, name) for text, name in zip(texts, names, strict=False))
    return (of or library(**more)).effective(*pair, layers)


def refused(*texts, **more):
    with pytest.raises(TicketError) as error:
        under(*texts, **more)
    return error.value.problems


def test_ticket_is_laid_over_the_customer_by_rule_and_nominal_with_its_own_line_and_layer():
    rules = under(
        "solid_density: {min: 2.95}\ntints:\n"
        "  - {nominal: 3, tolerance: 1}\n  - {nominal: 50.0, tolerance: 1}\n"
    )
    found = values(rules)
    assert found["solid_density.min"] == 2.95
    assert found["tints.50.tolerance"] == found["tints.3.tolerance"] == 1.0
    assert found["solid_density.spread"] == 0.2
    limit = rules.limit("tints", "50", "tolerance")
    assert (limit.origin, limit.layer) == ("1041.yaml:4", "ticket")
    assert rules.limit("solid_density", "spread").layer == "workflow"
    assert [limit.rule for limit in rules.from_ticket] == [
        "solid_density.min",
        "tints.3.tolerance",
        "tints.50.tolerance",
    ]
    assert "solid_density.min: 2.95 density  # 1041.yaml:1 (ticket)" in rules.text


@pytest.mark.parametrize(
    ("text", "both_lines"),
    [
        ("solid_density: {min: 2.60}", ("1041.yaml:1", "customers/quillmark.yaml:7, customer")),
        ("tints: [{nominal: 5e1, tolerance: 1.9}]", ("1041.yaml:1", "quillmark.yaml:4, customer")),
        ("solid_density: {spread: 0.3}", ("1041.yaml:1", "liquid-plate.yaml:5, workflow")),
        ("film: {stocks: [matte-5mil, silver]}", ("1041.yaml:1", "liquid-plate.yaml:9, workflow")),
        ("screen: {ruling_lpi: {max: 120}}", ("1041.yaml:1", "liquid-plate.yaml:11, workflow")),
        ("dot: {spread_factor: 1.6}", ("1041.yaml:1", "defaults.yaml:15, built in")),
        ("plausibility: {max_density: 6.5}", ("1041.yaml:1", "built in")),
    ],
)
def test_what_loosens_is_refused_and_both_lines_are_named(text, both_lines):
    (problem,) = refused(text)
    assert problem.name == "looser-than-rules"
    assert str(problem.place) == both_lines[0]
    assert both_lines[1] in problem.what
    assert problem.do


def test_ticket_as_strict_as_the_rules_is_taken_and_is_not_mistaken_for_the_rules_of_all():
    alike = under("solid_density: {min: 2.85}")
    plain = library().effective(*QUILL)
    assert values(alike) == values(plain)
    assert alike.fingerprint != plain.fingerprint


def test_ticket_below_the_site_floor_is_refused_where_no_layer_but_the_floor_sets_the_limit():
    (problem,) = refused(
        "solid_density: {min: 2.4}",
        files={"workflows/liquid-plate.yaml": LIQUID.replace("min: 2.70, ", "")},
        floors=FLOORS,
        pair=("liquid-plate", ""),
    )
    assert "site.yaml:1, site floor" in problem.what


def test_ticket_may_ask_what_the_rules_do_not():
    rules = under("density_range: {min: 2.6}\nrequired: [operator]\nfilm: {max_open_days: 30}")
    assert values(rules)["density_range.min"] == 2.6
    assert values(rules)["film.max_open_days"] == 30
    assert {"required.job", "required.meter", "required.operator"} <= values(rules).keys()


def test_setting_that_says_how_others_limits_are_judged_is_refused():
    sized = LIQUID + "size: {tolerance_mm: 0.5}\n"
    files = {"workflows/liquid-plate.yaml": sized}
    assert told(refused("size: {shrink_percent: 1.6}", files=files)) == [
        "1041.yaml:1 setting-of-others"
    ]
    own = under("size: {tolerance_mm: 0.5, shrink_percent: 1.6}")
    assert values(own)["size.shrink_percent"] == 1.6


@pytest.mark.parametrize(
    ("text", "place", "name"),
    [
        ("solid_density: {mim: 2.9}", "1041.yaml:1", "unknown-key"),
        ("solid_density: {min: 2,9}", "1041.yaml:1", "decimal-comma"),
        ("solid_density: {min: thick}", "1041.yaml:1", "not-a-number"),
        ("solid_density:\n\tmin: 2.9", "1041.yaml:2", "tab"),
        ("job: 1041\nsolid_density: {min: 2.9}\nsolid_density: {}", "1041.yaml:3", "key-twice"),
        ("a: &x [1]\nb: *x", "1041.yaml:1", "anchor"),
        ("tints: [{tolerance: 1}]", "1041.yaml:1", "no-nominal"),
        ("tints: [{nominal: 50}]", "1041.yaml:1", "no-tolerance"),
        ("solid_density: {min: 29}", "1041.yaml:1", "out-of-range"),
        ("solid_density: {max: 2.0}", "1041.yaml:1", "limits-cross"),
        ("customer: Quillmark Cartons", "1041.yaml:1", "unknown-key"),
        ("changes: [{until: 2027-01-01}]", "1041.yaml:1", "unknown-key"),
        ("job: 1042", "1041.yaml:1", "other-job"),
        ("", "1041.yaml:1", "empty-file"),
        ("- 1", "1041.yaml:1", "no-keys"),
        ("exposure: {min_margin_stops: 2}", "1041.yaml:1", "no-setting"),
        (b"\xff\xfe\x00", "1041.yaml:1", "not-utf-8"),
        (CannotRead("Permission denied"), "1041.yaml:1", "unreadable-file"),
        ("# " + "x" * MAX_BYTES, "1041.yaml:1", "too-large"),
        ("{" * 40, "1041.yaml:1", "too-deep"),
    ],
)
def test_broken_ticket_is_refused_at_its_line(text, place, name):
    found = told(refused(text))
    assert f"{place} {name}" in found, found


def test_stock_that_no_register_knows_is_refused():
    files = {
        "workflows/liquid-plate.yaml": LIQUID.replace("film:", "meter:").replace(
            "{stocks: [matte-5mil, matte-8mil]}", "{filters: [visual]}"
        )
    }
    problems = refused("film: {stocks: [mate-5mil]}", files=files, register=REGISTER)
    assert told(problems) == ["1041.yaml:1 unknown-stock"]


def test_every_problem_is_told_at_once():
    assert len(refused("solid_density: {min: 2.5, spread: 0.3}\ntints: []\n")) == 2


def test_tickets_add_up_and_the_stricter_limit_counts_in_any_order():
    one, other = "solid_density: {min: 2.95, spread: 0.1}", "solid_density: {min: 2.90, max: 4.0}"
    for pair in ((one, other), (other, one)):
        rules = under(*pair)
        assert values(rules)["solid_density.min"] == 2.95
        assert values(rules)["solid_density.spread"] == 0.1
        assert values(rules)["solid_density.max"] == 4.0


def test_two_tickets_that_cannot_both_be_met_are_refused():
    problems = refused("film: {stocks: [matte-5mil]}", "film: {stocks: [matte-8mil]}")
    assert told(problems) == ["1041-red.yaml:1 tickets-disagree"]
    assert "1041.yaml:1" in problems[0].what


def test_last_good_rules_are_what_the_ticket_is_laid_over_while_the_file_is_broken():
    broken = {"customers/quillmark.yaml": QUILLMARK.replace("min: 2.85", "mim: 2.85")}
    found = library(
        broken,
        last_good={"workflows/liquid-plate.yaml": LIQUID, "customers/quillmark.yaml": QUILLMARK},
    )
    rules = under("solid_density: {min: 2.95}", of=found)
    assert values(rules)["solid_density.min"] == 2.95
    assert "last good rules" in rules.notes[0]
    assert refused("solid_density: {min: 2.8}", of=found)


def test_name_tells_a_ticket_from_artwork():
    assert all(map(is_ticket, ("1041.yaml", "1041.YML", "a.b.yaml")))
    assert not any(map(is_ticket, ("1041.pdf", "yaml", ".yaml", "1041.yaml.bak")))


def test_file_name_that_would_break_a_line_of_the_record_is_made_plain():
    rules = library().effective(*QUILL, [ticket("solid_density: {min: 3}", "10\n41.yaml")])
    assert rules.limit("solid_density", "min").origin == "10?41.yaml:1"


numbers = st.sampled_from([2.6, 2.7, 2.85, 2.9, 3.2])
spreads = st.sampled_from([0.1, 0.2, 0.25])


@given(numbers, spreads)
def test_rules_under_a_ticket_are_never_looser_than_without_it(least, spread):
    text = f"solid_density: {{min: {least}, spread: {spread}}}"
    below = values(LIBRARY.effective(*QUILL))
    try:
        found = values(LIBRARY.effective(*QUILL, [ticket(text)]))
    except TicketError:
        assert least < below["solid_density.min"] or spread > below["solid_density.spread"]
        return
    assert found["solid_density.min"] >= below["solid_density.min"]
    assert found["solid_density.spread"] <= below["solid_density.spread"]
    assert found.keys() == below.keys()


LIBRARY = library()
