"""Rules side by side, from files or from the record of a verdict."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shelves import LIQUID, QUILLMARK, library

from gatekeeper.rules.difference import Change, Difference, Said, difference, matched, read_record


def records(files=None):
    shelf = library(files)
    found = [read_record(shelf.effective(*pair).text) for pair in shelf.pairs()]
    return {record.pair: record for record in found}


def told(found):
    return [
        (
            *change.pair,
            change.rule,
            change.before.value if change.before else None,
            change.after.value if change.after else None,
        )
        for change in found.changes
    ]


def test_record_is_read_back_as_the_rules_were():
    shelf = library()
    rules = shelf.effective("liquid-plate", "Quillmark Cartons")
    record = read_record(rules.text)
    assert record.pair == ("liquid-plate", "Quillmark Cartons")
    assert record.rules["reading"] == Said("negative")
    assert record.rules["solid_density.min"] == Said(
        "2.85 density", "customers/quillmark.yaml:7", "customer"
    )
    assert set(record.rules) == {"reading", "dot_from", *(limit.rule for limit in rules.limits)}
    for limit in rules.limits:
        assert record.rules[limit.rule] == Said(str(limit), limit.origin, limit.layer)


def test_job_without_a_customer_has_none_in_its_record():
    assert read_record(library().effective("stencil", "").text).pair == ("stencil", "")


@pytest.mark.parametrize("stock", ["matte  # 5", "a: b", "x (y)", "x (site floor)"])
def test_odd_names_do_not_confuse_the_record(stock):
    text = LIQUID.replace("matte-8mil", f"'{stock}'")
    rules = library({"workflows/liquid-plate.yaml": text}).effective("liquid-plate", "")
    assert read_record(rules.text).rules["film.stocks"] == Said(
        f"matte-5mil, {stock}", "workflows/liquid-plate.yaml:9", "workflow"
    )


def test_text_that_is_no_record_is_an_empty_one():
    assert read_record("").pair == ("", "")
    assert read_record("no colon\n").rules == {"no colon": Said("")}


def test_equal_rules_differ_in_nothing():
    found = difference(records(), records())
    assert not found
    assert found == Difference(())


def test_comment_that_moves_lines_is_no_difference():
    assert not difference(records(), records({"workflows/liquid-plate.yaml": "# x\n" + LIQUID}))


def test_change_of_a_workflow_is_told_once_and_not_for_each_customer():
    edited = LIQUID.replace("spread: 0.20", "spread: 0.15").replace("max: 0.10", "max: 0.12")
    found = difference(records(), records({"workflows/liquid-plate.yaml": edited}))
    assert told(found) == [
        ("liquid-plate", "", "solid_density.spread", "0.2 density", "0.15 density"),
        ("liquid-plate", "", "clear_density.max", "0.1 density", "0.12 density"),
    ]


def test_change_of_a_customer_is_told_for_that_customer():
    edited = QUILLMARK.replace("2.85", "2.95")
    found = difference(records(), records({"customers/quillmark.yaml": edited}))
    assert told(found) == [
        ("liquid-plate", "Quillmark Cartons", "solid_density.min", "2.85 density", "2.95 density")
    ]


def test_rules_that_come_and_go_are_told():
    edited = LIQUID.replace("film: {stocks: [matte-5mil, matte-8mil]}\n", "").replace(
        "[job, meter]", "[job, meter, operator]"
    )
    found = difference(records(), records({"workflows/liquid-plate.yaml": edited}))
    names = {change.rule: (change.before, change.after) for change in found.changes}
    assert names["film.stocks"][1] is None
    assert names["required.operator"][0] is None


def test_workflows_and_customers_of_only_one_are_told():
    found = difference(
        records({"workflows/stencil.yaml": None}), records({"customers/quillmark.yaml": None})
    )
    assert found.only_before == (("liquid-plate", "Quillmark Cartons"),)
    assert found.only_after == (("stencil", ""),)
    assert found


def test_two_single_records_are_compared_whatever_they_are_called():
    both = records()
    one = {("liquid-plate", ""): both["liquid-plate", ""]}
    other = {("stencil", ""): both["stencil", ""]}
    found = difference(*matched(one, other))
    assert ("stencil", "", "reading", "negative", "positive") in told(found)


def test_single_record_is_held_against_its_own_pair_of_a_folder():
    both = records()
    one = {("stencil", ""): both["stencil", ""]}
    assert not difference(*matched(one, both))
    assert not difference(*matched(both, one))
    gone = {("proof", ""): both["stencil", ""]}
    assert difference(*matched(gone, both)).only_before == (("proof", ""),)


@given(st.sampled_from(["2.70", "2.75", "2.8"]), st.sampled_from(["2.70", "2.9", "2.8"]))
def test_difference_turned_round_tells_the_same_the_other_way(one, other):
    left = records({"workflows/liquid-plate.yaml": LIQUID.replace("2.70", one)})
    right = records({"workflows/liquid-plate.yaml": LIQUID.replace("2.70", other)})
    forth, back = difference(left, right), difference(right, left)
    assert [(c.rule, c.before, c.after) for c in forth.changes] == [
        (c.rule, c.after, c.before) for c in back.changes
    ]
    assert bool(forth) is (float(one) != float(other))
    assert all(isinstance(change, Change) for change in forth.changes)
