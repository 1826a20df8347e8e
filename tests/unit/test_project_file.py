"""What the project says of itself where the code cannot be asked."""

import re
import tomllib
from pathlib import Path

from trove_classifiers import classifiers

import gatekeeper

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]


def names(requirements):
    return {re.match(r"[A-Za-z0-9_.-]+", requirement)[0] for requirement in requirements}


def test_every_dependency_is_justified_in_the_developers_table():
    guide = (ROOT / "DEVELOPERS.md").read_text().split("## What it stands on")[1].split("\n## ")[0]
    rows = [line.split("|") for line in guide.splitlines() if line.startswith("| ")][1:]
    assert all(cell.strip() for row in rows for cell in row[1:5])
    extras = PROJECT["optional-dependencies"]
    wanted = names(PROJECT["dependencies"]).union(
        *(names(extra) for name, extra in extras.items() if name != "test")
    )
    assert {row[1].strip() for row in rows} == wanted


def test_classifiers_are_known_and_agree_with_the_floor():
    assert set(PROJECT["classifiers"]) <= classifiers
    assert PROJECT["requires-python"] == ">=3.11"
    versions = [line.rsplit(" ", 1)[1] for line in PROJECT["classifiers"] if ":: 3." in line]
    assert versions[0] == "3.11"


def test_version_stands_in_one_place():
    assert PROJECT["dynamic"] == ["version"]
    assert re.fullmatch(r"\d+\.\d+\.\d+", gatekeeper.__version__)
    found = [
        path.name
        for path in (ROOT / "gatekeeper").rglob("*.py")
        if f'"{gatekeeper.__version__}"' in path.read_text()
    ]
    assert found == ["__init__.py"]
