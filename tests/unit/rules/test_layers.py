"""Properties of merging: order of brackets does not matter, and who only tightens never loosens."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shelves import library

from gatekeeper.rules.compile import field_of
from gatekeeper.rules.floors import looser_than
from gatekeeper.rules.merge import Layer, keyed, merge, merge_layers, nominal_key
from gatekeeper.yamlfiles.load import load
from gatekeeper.yamlfiles.places import Place, Scalar, Table, to_plain

AT = Place("x", 1, 1)
KEYS = st.sampled_from(["a", "b", "c", "d"])
SCALARS = st.builds(
    Scalar,
    st.sampled_from(["1", "2", "3"]),
    st.builds(Place, st.just("x"), st.integers(1, 9), st.just(1)),
)


def table_of(entries):
    return Table(entries, {key: node.place for key, node in entries.items()}, AT)


# One key is always a block or always a value, as the models see to it.
INNER = st.dictionaries(KEYS, SCALARS, max_size=3).map(table_of)
TABLES = st.builds(
    lambda values, blocks: table_of(
        {**values, **{key.upper(): node for key, node in blocks.items()}}
    ),
    st.dictionaries(KEYS, SCALARS, max_size=3),
    st.dictionaries(KEYS, INNER, max_size=3),
)


@given(TABLES, TABLES, TABLES)
def test_merging_is_associative(one, two, three):
    left = merge(merge(one, two), three)
    right = merge(one, merge(two, three))
    assert left == right
    assert to_plain(left) == to_plain(right)


@given(TABLES, TABLES)
def test_the_layer_laid_over_wins_and_loses_nothing_of_its_own(base, over):
    merged = to_plain(merge(base, over))
    for key, value in to_plain(over).items():
        if isinstance(value, dict):
            assert value.items() <= merged[key].items()
        else:
            assert merged[key] == value
    assert set(merged) == set(to_plain(base)) | set(to_plain(over))


@given(TABLES)
def test_a_layer_laid_over_itself_changes_nothing(table):
    assert to_plain(merge(table, table)) == to_plain(table)


def test_no_layers_make_an_empty_table():
    assert to_plain(merge_layers([])) == {}


def test_value_keeps_the_place_of_the_layer_that_set_it():
    base = load(b"film: {max_age_days: 1, max_open_days: 2}\n", "base.yaml")
    over = load(b"# theirs\nfilm: {max_open_days: 3}\n", "over.yaml")
    film = merge_layers([Layer("workflow", base), Layer("customer", over)]).entries["film"]
    assert film.entries["max_age_days"].place.file == "base.yaml"
    assert str(film.entries["max_open_days"].place) == "over.yaml:2"
    assert str(film.key_places["max_open_days"]) == "over.yaml:2"


@pytest.mark.parametrize(("one", "other"), [("50", "50.0"), ("5e1", "050"), ("2.50", "2.5")])
def test_equal_nominals_have_one_key(one, other):
    assert nominal_key(one) == nominal_key(other)


@given(st.floats(0.001, 99.999), st.floats(0.001, 99.999))
def test_two_nominals_have_one_key_only_when_they_are_equal(one, other):
    assert (nominal_key(repr(one)) == nominal_key(repr(other))) is (one == other)


def test_lists_are_keyed_by_what_they_name():
    table = keyed(
        load(
            b"reading: negative\nrequired: Film  Lot\n"
            b"tints: [{nominal: 50, tolerance: 2}, 7, {tolerance: 1}]\n",
            "x.yaml",
        )
    )
    assert to_plain(table) == {
        "required": {"film lot": "given"},
        "tints": {"50": {"tolerance": "2"}},
    }


# -- a customer who only tightens -------------------------------------------------------------

LIMITS = st.fixed_dictionaries(
    {},
    optional={
        "solid_density.min": st.floats(2.5, 4.0),
        "solid_density.spread": st.floats(0.01, 0.5),
        "clear_density.max": st.floats(0.01, 0.2),
        "film.max_age_days": st.floats(1, 1000),
        "tints.50.tolerance": st.floats(0.1, 5),
        "tints.95.tolerance": st.floats(0.1, 5),
        "screen.resolution_dpi": st.sets(st.sampled_from([360, 720, 1440, 2400]), min_size=1),
    },
)


def written(limits, indent):
    """Return limits as lines of YAML."""
    blocks, tints = {}, {}
    for rule, value in limits.items():
        section, *rest = rule.split(".")
        text = str(sorted(value)) if isinstance(value, set) else repr(value)
        if section == "tints":
            tints[rest[0]] = text
        else:
            blocks.setdefault(section, []).append(f"{rest[0]}: {text}")
    lines = [f"{section}: {{{', '.join(keys)}}}" for section, keys in blocks.items()]
    if tints:
        lines.append("tints:")
        lines += [f"  - {{nominal: {key}, tolerance: {value}}}" for key, value in tints.items()]
    return "".join(f"{' ' * indent}{line}\n" for line in lines)


def is_stricter(rule, value, than):
    if isinstance(value, set):
        return value <= than
    return value >= than if rule == "solid_density.min" else value <= than


@settings(deadline=None, max_examples=60)
@given(LIMITS, LIMITS, LIMITS)
def test_a_customer_that_only_tightens_never_loosens(workflow, for_all, own):
    base = {"solid_density.min": 2.7, "clear_density.max": 0.1, **workflow}
    tightened = {
        rule: value
        for stated in (for_all, own)
        for rule, value in stated.items()
        if rule not in base or is_stricter(rule, value, base[rule])
    }
    text = f"workflow: w\nreading: negative\n{written(base, 0)}"
    theirs = (
        f"customer: C\nworkflows:\n  w:\n{written(tightened, 4)}" if tightened else "customer: C\n"
    )
    shelf = library({"workflows/w.yaml": text, "customers/c.yaml": theirs})
    assert shelf.all_problems == ()
    without = {limit.path: limit for limit in shelf.effective("w", "").limits}
    with_theirs = {limit.path: limit for limit in shelf.effective("w", "C").limits}
    assert set(without) <= set(with_theirs)
    for path, limit in without.items():
        assert not looser_than(with_theirs[path], limit, field_of(path)[1])


@settings(deadline=None, max_examples=60)
@given(LIMITS, LIMITS, LIMITS)
def test_no_rules_come_out_looser_than_a_floor(floors, workflow, customer):
    base = {"solid_density.min": 2.7, "clear_density.max": 0.1}
    text = f"workflow: w\nreading: negative\n{written({**base, **workflow}, 0)}"
    theirs = (
        f"customer: C\nworkflows:\n  w:\n{written(customer, 4)}" if customer else "customer: C\n"
    )
    shelf = library(
        {"workflows/w.yaml": text, "customers/c.yaml": theirs}, floors=written(floors, 0) or None
    )
    stated = {**base, **workflow, **customer}
    allowed = all(
        is_stricter(rule, stated[rule], floor) for rule, floor in floors.items() if rule in stated
    )
    told = {problem.name for problem in shelf.problems.get("customers/c.yaml", ())}
    told |= {problem.name for problem in shelf.problems.get("workflows/w.yaml", ())}
    if allowed:
        assert "looser-than-floor" not in {
            p.name for p in shelf.problems.get("customers/c.yaml", ())
        }
    else:
        assert "looser-than-floor" in told
