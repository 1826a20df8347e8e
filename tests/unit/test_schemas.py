"""Schemas for editors, held against a general validator of JSON Schema."""

import json
import re
from pathlib import Path

import pytest
import yaml
from jsonschema import Draft202012Validator

from gatekeeper.filing.disk import Disk
from gatekeeper.schemas import KINDS, schema_files, schema_of, write_schemas

CONFIG = Path(__file__).parents[2] / "config"
FOLDERS = {
    "workflows": "workflow",
    "customers": "customer",
    "register": "register",
    "readers": "profile",
}
EXAMPLES = [
    (kind, path) for folder, kind in FOLDERS.items() for path in sorted((CONFIG / folder).glob("*"))
] + [("site", CONFIG / "site.yaml")]


class EditorsYaml(yaml.SafeLoader):
    """YAML as editors read it, version 1.2: dates are text, and `on` and `no` are words."""


EditorsYaml.yaml_implicit_resolvers = {
    first: [
        (tag, pattern)
        for tag, pattern in resolvers
        if tag not in {"tag:yaml.org,2002:timestamp", "tag:yaml.org,2002:bool"}
    ]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
EditorsYaml.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile("true|false"), "tf")


def complaints(kind, text):
    """Return what an editor would mark, as the path of the value and the keyword it misses."""
    document = yaml.load(text, EditorsYaml)  # noqa: S506 -- a safe loader with less in it
    errors = Draft202012Validator(schema_of(kind)).iter_errors(document)
    return sorted((".".join(map(str, error.absolute_path)), error.validator) for error in errors)


@pytest.mark.parametrize("kind", KINDS)
def test_schema_is_one_by_the_rules_of_json_schema(kind):
    Draft202012Validator.check_schema(schema_of(kind))


@pytest.mark.parametrize(
    ("kind", "path"), EXAMPLES, ids=lambda value: getattr(value, "name", value)
)
def test_example_file_is_good_by_its_schema(kind, path):
    assert complaints(kind, path.read_text("utf-8")) == []


@pytest.mark.parametrize(
    ("kind", "path"), EXAMPLES, ids=lambda value: getattr(value, "name", value)
)
def test_example_file_names_its_schema_in_its_first_line(kind, path):
    up = "" if kind == "site" else "../"
    first = path.read_text("utf-8").splitlines()[0]
    assert first == f"# yaml-language-server: $schema={up}schemas/{kind}.schema.json"


W = "workflow: w\nreading: negative\n"
MISTAKES = [
    ("workflow", W + "solid_density: {mn: 2.7}", "solid_density", "additionalProperties"),
    ("workflow", W + "solid_density: {min: '2.7'}", "solid_density.min", "type"),
    ("workflow", W + "solid_density: {min: 2,70}", "solid_density", "additionalProperties"),
    ("workflow", W + "solid_density: {min: }", "solid_density.min", "type"),
    ("workflow", W + "solid_density: 2.7", "solid_density", "type"),
    ("workflow", W + "solid_density: {spots: 2.5}", "solid_density.spots", "type"),
    ("workflow", W + "solid_density: {spots: -1}", "solid_density.spots", "minimum"),
    ("workflow", W + "tints: {nominal: 50}", "tints", "type"),
    ("workflow", W + "tints: [{nominal: fifty}]", "tints.0.nominal", "type"),
    ("workflow", W + "film: {stocks: []}", "film.stocks", "minItems"),
    ("workflow", W + "screen: {resolution_dpi: [a]}", "screen.resolution_dpi.0", "type"),
    ("workflow", "workflow: w\nreading: negativ", "reading", "enum"),
    ("workflow", "workflow: w", "", "required"),
    ("customer", "customer: c\nsolid_density: {min: 2}", "", "additionalProperties"),
    ("customer", "customer: c\nworkflows: {w: {tints: 5}}", "workflows.w.tints", "type"),
    ("register", "meters: {T-1: {filter: visual}}", "meters.T-1", "required"),
    (
        "register",
        "meters: {T-1: {calibrated: 2026-09-01, uncertainty: -1}}",
        "meters.T-1.uncertainty",
        "minimum",
    ),
    (
        "register",
        "stocks: {s: {kind: ink film, thickness_mil: 0}}",
        "stocks.s.thickness_mil",
        "exclusiveMinimum",
    ),
    ("site", "site: s\nsettle_s: 4000", "settle_s", "maximum"),
    ("site", "site: s\non_broken_rules: ignore", "on_broken_rules", "enum"),
    ("site", "site: s\nfloors: {film: {stocks: []}}", "floors.film.stocks", "minItems"),
    ("profile", "profile: p\nrecognise: {}\npatches: {words: {sold: x}}", "patches.words", "enum"),
]


@pytest.mark.parametrize(("kind", "text", "path", "keyword"), MISTAKES)
def test_mistake_is_marked_as_one_types(kind, text, path, keyword):
    assert (path, keyword) in complaints(kind, text)


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (
            "workflow",
            W + "film: {stocks: matte-5mil}\nscreen: {resolution_dpi: 720}\nrequired: job",
        ),
        ("workflow", W + "title: 1041\nmeter: {filters: [visual, UV]}"),
        ("customer", "customer: Pennyroyal Preserves"),
        ("register", "meters: {4: {calibrated: 2026-09-01}}"),
        ("site", "site: s\ndate_formats: '%d/%m/%Y'\nlitter: '*.lck'"),
    ],
)
def test_short_forms_that_files_may_use_are_not_marked(kind, text):
    assert complaints(kind, text) == []


def properties_in(schema, path=""):
    if isinstance(schema, dict):
        for name, entry in schema.get("properties", {}).items():
            yield f"{path}.{name}", entry
        for key, value in schema.items():
            yield from properties_in(value, f"{path}.{key}")
    elif isinstance(schema, list):
        for entry in schema:
            yield from properties_in(entry, path)


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_is_described(kind):
    bare = [path for path, entry in properties_in(schema_of(kind)) if not entry.get("description")]
    assert bare == []


def test_limits_carry_their_unit():
    sections = schema_of("workflow")["$defs"]
    assert sections["Film"]["properties"]["max_age_days"]["x-unit"] == "days"
    assert "x-unit" not in sections["Film"]["properties"]["stocks"]


@pytest.mark.parametrize("kind", KINDS)
def test_schema_says_nothing_that_is_only_ours(kind):
    text = json.dumps(schema_of(kind))
    for word in ('"stricter"', '"is_setting"', '"null"', '"ge"', 'SolidDensity", "type'):
        assert word not in text


def test_schemas_are_written_and_only_what_changed_is_written_again(tmp_path):
    folder = tmp_path / "schemas"
    assert sorted(write_schemas(folder, Disk())) == sorted(schema_files())
    assert write_schemas(folder, Disk()) == []
    (folder / "site.schema.json").write_text("{}")
    (folder / "mine.json").write_text("{}")
    assert write_schemas(folder, Disk()) == ["site.schema.json"]
    assert json.loads((folder / "site.schema.json").read_bytes()) == schema_of("site")
    assert (folder / "mine.json").read_text() == "{}"
