"""Reads the rule files of a site folder and the built-in defaults from disk."""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

from gatekeeper.rules.library import CUSTOMERS, WORKFLOWS
from gatekeeper.yamlfiles.load import load
from gatekeeper.yamlfiles.places import Table

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

RULE_FOLDERS = (WORKFLOWS, CUSTOMERS)


def read_yaml_files(root: Path, folders: Iterable[str]) -> dict[str, bytes]:
    """Return the bytes of every YAML file in these folders by its path relative to the site."""
    found: dict[str, bytes] = {}
    for folder in folders:
        for path in sorted((root / folder).glob("*.y*ml")):
            if (
                path.suffix in {".yaml", ".yml"}
                and not path.name.startswith(".")
                and path.is_file()
            ):
                found[f"{folder}{path.name}"] = path.read_bytes()
    return found


@cache
def built_in_defaults() -> tuple[Table, Table]:
    """Return the tables `always` and `where_used` of the packaged defaults.yaml."""
    content = resources.files("gatekeeper.rules").joinpath("defaults.yaml").read_bytes()
    table = load(content, "defaults.yaml")
    always, where_used = table.entries["always"], table.entries["where_used"]
    if not isinstance(always, Table) or not isinstance(where_used, Table):
        raise TypeError(table.place.file)
    return always, where_used
