"""config/README.md names every key of a site's files, and its walk-through works as written."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from gatekeeper.logs.settings import LogBlock
from gatekeeper.mail.settings import MailBlock
from gatekeeper.readers import profile as profile_models
from gatekeeper.register import models as register_models
from gatekeeper.rules import models as rule_models
from gatekeeper.rules.files import RULE_FOLDERS, built_in_defaults, read_yaml_files
from gatekeeper.rules.library import Library
from gatekeeper.site import FoldersBlock, SiteFile, read_site
from gatekeeper.telling.settings import TellBlock
from gatekeeper.upkeep_settings import UpkeepBlock
from gatekeeper.yamlfiles.fields import Block

if TYPE_CHECKING:
    from types import ModuleType

CONFIG = Path(__file__).parents[2] / "config"
GUIDE = (CONFIG / "README.md").read_text(encoding="utf-8")
KEYS_IN_TABLES = {
    key
    for line in GUIDE.splitlines()
    if line.startswith("|")
    for cell in line.split("|")[1:3]
    if re.fullmatch(r" `[a-z_0-9]+`(?:, `[a-z_0-9]+`)* ", cell)
    for key in re.findall(r"[a-z_0-9]+", cell)
}


def blocks_of(module: ModuleType) -> list[type[Block]]:
    return [
        value
        for value in vars(module).values()
        if isinstance(value, type) and issubclass(value, Block) and value is not Block
    ]


ALL_BLOCKS = [
    SiteFile,
    FoldersBlock,
    LogBlock,
    MailBlock,
    UpkeepBlock,
    TellBlock,
    *(
        block
        for module in (rule_models, register_models, profile_models)
        for block in blocks_of(module)
    ),
]


@pytest.mark.parametrize("block", ALL_BLOCKS, ids=lambda block: block.__name__)
def test_every_key_stands_in_a_table_of_the_guide(block):
    assert set(block.model_fields) - KEYS_IN_TABLES == set()


def test_guide_names_no_key_that_does_not_exist():
    known = {key for block in ALL_BLOCKS for key in block.model_fields}
    assert KEYS_IN_TABLES - known == set()


def library_with(file: str) -> Library:
    always, where_used = built_in_defaults()
    files = read_yaml_files(CONFIG, RULE_FOLDERS)
    return Library(
        {**files, "customers/hollin.yaml": file.encode()},
        always=always,
        where_used=where_used,
        floors=read_site(CONFIG).floors,
    )


def files_in_walk_through() -> list[str]:
    found = re.findall(r"^   ```yaml\n(.*?)^   ```$", GUIDE, re.MULTILINE | re.DOTALL)
    return [re.sub(r"^ {3}", "", text, flags=re.MULTILINE) for text in found]


def test_every_file_of_the_walk_through_loads():
    assert len(files_in_walk_through()) == 2
    for file in files_in_walk_through():
        assert [str(problem) for problem in library_with(file).all_problems] == []


def test_last_file_of_the_walk_through_sets_what_its_text_says():
    rules = library_with(files_in_walk_through()[-1]).effective("sheet-plate", "hollin soups")
    limits = {limit.rule: limit for limit in rules.limits}
    assert limits["tints.50.tolerance"].number == 1.5
    assert limits["film.max_open_days"].number == 31
    assert limits["tints.3.tolerance"].number == 1.0
    assert limits["tints.5.tolerance"].layer == "workflow"
    own = {rule for rule, limit in limits.items() if limit.layer == "customer"}
    assert own == {"tints.50.tolerance", "film.max_open_days", "tints.3.tolerance"}
    assert all(limits[rule].place.file == "customers/hollin.yaml" for rule in own)


def defaults_stated(section: str, key: str) -> str:
    lines = GUIDE.split("### workflows, customers and floors: the limits")[1].splitlines()
    current = ""
    for line in (line for line in lines if line.startswith("| ")):
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        current = cells[0].strip("`") or current
        if current == section and cells[1].strip("`") == key:
            return cells[-1]
    raise KeyError(section, key)


def test_guide_states_the_defaults_that_are_built_in():
    always, where_used = built_in_defaults()
    for table, behind in ((always, ""), (where_used, " where the section is used")):
        for section, block in table.entries.items():
            for key, value in block.entries.items():
                assert defaults_stated(section, key) == f"{value.text}{behind}"


@pytest.mark.parametrize(
    "block",
    [SiteFile, FoldersBlock, LogBlock, MailBlock, UpkeepBlock, TellBlock],
    ids=lambda block: block.__name__,
)
def test_guide_states_the_defaults_of_the_site_file(block):
    lines = GUIDE.split("### site.yaml")[1].split("### workflows: how to judge")[0].splitlines()
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines if "`" in line]
    stated = {cells[0].strip("`"): cells[-1].strip("`") for cells in rows if len(cells) == 4}
    for key, field in block.model_fields.items():
        if isinstance(field.default, str | int | float):
            assert stated[key] == str(field.default)
