"""`gatekeeper rules show` and `rules schema` on a real site."""

import json

import pytest

SHOWN = """\
proof (Proofs)
a positive; dots from: meter

required.job           given          workflows/proof.yaml:5 (workflow)
solid_density.min      2.695 density  customers/c.yaml:2 (customer)
solid_density.spots    2 patches      workflows/proof.yaml:6 (workflow)
tints.2.5.tolerance    1 percent      workflows/proof.yaml:7 (workflow)
tints.50.tolerance     3 percent      site.yaml:2 (site floor)
screen.ruling_lpi.max  65 lpi         customers/c.yaml:2 (customer)
"""


@pytest.fixture
def small(room):
    """The site with one workflow, one customer and one floor."""
    for folder in ("workflows", "customers", "register"):
        for path in (room.root / folder).glob("*.yaml"):
            path.unlink()
    (room.root / "site.yaml").write_text(
        "site: Ferrybank\nfloors: {tints: [{nominal: 50, tolerance: 3}]}\n"
    )
    (room.root / "workflows/proof.yaml").write_text(
        "workflow: proof\ntitle: Proofs\nreading: positive\ndot_from: meter\nrequired: job\n"
        "solid_density: {min: 2.7, spots: 2}\ntints: [{nominal: 2.50, tolerance: 1}]\n"
    )
    (room.root / "customers/c.yaml").write_text(
        "customer: C\n"
        "all_workflows: {solid_density: {min: 2.695}, screen: {ruling_lpi: {max: 65}}}\n"
    )
    return room


def show(room, *words, expect=0):
    return room.call("--site", str(room.root), "rules", "show", *words, expect=expect)


def test_every_limit_is_shown_with_value_unit_and_origin(small):
    lines = show(small, "--workflow", "proof", "--customer", "c").stdout.splitlines()
    head = lines[0].replace(", for C", "")
    limits = [" ".join(line.split()) for line in lines[3:-2] if "built in" not in line]
    wanted = [" ".join(line.split()) for line in SHOWN.splitlines()]
    assert [head, *lines[1:3], *limits] == wanted
    assert lines[0] == "proof (Proofs), for C"
    assert lines[-1].startswith("fingerprint ")


def test_columns_of_the_limits_stand_below_one_another(small):
    lines = show(small, "--workflow", "proof").stdout.splitlines()[3:-2]
    starts = {line.index(file) for line in lines for file in (line.split("  ")[-1].strip(),)}
    assert len(starts) == 1


def test_the_same_is_given_to_programs(small):
    told = json.loads(show(small, "--workflow", "proof", "--customer", "C", "--json").stdout)
    assert (told["workflow"], told["customer"], told["reading"]) == ("proof", "C", "positive")
    limits = {limit["rule"]: limit for limit in told["limits"]}
    assert limits["solid_density.min"] == {
        "rule": "solid_density.min",
        "value": 2.695,
        "unit": "density",
        "origin": "customers/c.yaml:2",
        "layer": "customer",
    }
    assert len(told["fingerprint"]) == 64


def test_what_changes_on_a_day_to_come_is_shown_with_its_day(small):
    customer = small.root / "customers/c.yaml"
    customer.write_text(
        "customer: C\n"
        "all_workflows:\n"
        "  solid_density: {min: 2.695}\n"
        "  changes:\n"
        "    - {effective_from: 2999-01-15, until: 2999-02-14, solid_density: {min: 2.9}}\n"
        "    - {effective_from: 2999-06-01, tints: [{nominal: 50, tolerance: 4}]}\n"
    )
    call = ("--workflow", "proof", "--customer", "c")
    lines = show(small, *call).stdout.splitlines()
    was, then = "2.695 density (customers/c.yaml:3)", "2.9 density (customers/c.yaml:5)"
    begins = lines.index("from 2999-01-15 on")
    assert lines[begins + 1] == f"  solid_density.min: {was} -> {then}"
    assert lines[lines.index("from 2999-02-15 on") + 1] == f"  solid_density.min: {then} -> {was}"
    broken = lines[lines.index("from 2999-06-01 on") + 1]
    assert broken.startswith("  its jobs wait until this is mended: customers/c.yaml:6 ")
    coming = json.loads(show(small, *call, "--json").stdout)["coming"]
    assert [entry["day"] for entry in coming] == ["2999-01-15", "2999-02-15", "2999-06-01"]
    assert coming[0]["changes"][0]["after"]["value"] == "2.9 density"
    assert [problem["line"] for problem in coming[2]["problems"]] == [6]
    others = show(small, "--workflow", "proof").stdout
    assert "2999" not in others


def test_without_a_workflow_the_names_are_listed(small):
    assert show(small).stdout.splitlines()[:2] == ["workflows  proof", "customers  C"]
    assert json.loads(show(small, "--json").stdout) == {"workflows": ["proof"], "customers": ["C"]}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--workflow", "prof"), 'no workflow is called "prof"'),
        (("--workflow", "proof", "--customer", "D"), 'no customer is called "D"'),
    ],
)
def test_unknown_names_are_refused_with_the_nearest_known(small, words, said):
    told = show(small, *words, expect=2).stderr
    assert said in told
    assert "  do     " in told


def test_rules_of_a_broken_file_are_not_shown_but_its_problem_is(small):
    (small.root / "workflows/proof.yaml").write_text("workflow: proof\nreading: sideways\n")
    told = show(small, "--workflow", "proof", expect=2).stderr
    assert "workflows/proof.yaml:2:10" in told
    assert "reading: sideways" in told


def test_a_new_site_has_the_schemas_that_its_files_name(room):
    for path in room.root.rglob("*.yaml"):
        first = path.read_text().splitlines()[0]
        named = first.removeprefix("# yaml-language-server: $schema=")
        assert (path.parent / named).resolve().is_file(), path


def test_schemas_are_written_anew_where_they_are_old_or_asked_for(room, tmp_path):
    assert room.call("rules", "schema", "--site", str(room.root)).stdout == ""
    (room.root / "schemas/site.schema.json").write_text("{}")
    told = room.call("rules", "schema", "--site", str(room.root)).stdout
    assert told == f"{room.root / 'schemas/site.schema.json'}\n"
    told = room.call("rules", "schema", str(tmp_path / "elsewhere")).stdout
    assert len(told.splitlines()) == 6
    made = json.loads((tmp_path / "elsewhere/customer.schema.json").read_bytes())
    assert made["additionalProperties"] is False


def test_checks_are_explained_without_any_site(room):
    said = room.call("rules", "explain", "solid_density.min").stdout
    assert said.startswith("Solid density:")
    assert "solid_density.spread (density)\n" in said
    listed = room.call("rules", "explain").stdout
    assert "\nclear_density " in listed
    told = json.loads(room.call("rules", "explain", "film", "--json").stdout)
    assert told["section"] == "film"
    assert len(json.loads(room.call("rules", "explain", "--json").stdout)) > 8
    assert "nearest" in room.call("rules", "explain", "flim", expect=2).stderr
