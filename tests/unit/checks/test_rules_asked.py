"""Which rules each check looks at: what `rules try` relies on when it runs only some of them."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from pathlib import Path

import pytest

from gatekeeper.checks.interface import Subject
from gatekeeper.checks.measured import measure
from gatekeeper.checks.registry import CHECKS
from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import RawFile
from gatekeeper.room import declarations_of, read_book
from gatekeeper.rules.edits import sections_of
from gatekeeper.site import read_site

ROOT = Path(__file__).parents[3]
SHEETS = sorted((ROOT / "examples/sheets").glob("*/*"))


@dataclass
class Asked:
    """Rules that note what is asked of them; a path that nobody sets is noted, too."""

    rules: object
    paths: set[str] = field(default_factory=set)

    @property
    def workflow(self):
        return self.rules.workflow

    @property
    def reading(self):
        self.paths.add("reading")
        return self.rules.reading

    @property
    def dot_from(self):
        self.paths.add("dot_from")
        return self.rules.dot_from

    @property
    def is_guarded(self):
        self.paths.add("decision.rule")
        return self.rules.is_guarded

    def limit(self, *path):
        self.paths.add(".".join(path))
        return self.rules.limit(*path)

    def number(self, *path, default):
        self.paths.add(".".join(path))
        return self.rules.number(*path, default=default)

    def under(self, section):
        self.paths.add(section)
        return self.rules.under(section)


@cache
def subjects():
    return tuple(_subjects())


def _subjects():
    """Yield every negative of the examples under the rules of each workflow and customer."""
    site = read_site(ROOT / "config")
    book = read_book(site)
    declarations = declarations_of(site, book.profiles)
    arrived = datetime(2026, 11, 24, 17, tzinfo=site.time_zone)
    for path in SHEETS:
        try:
            sheet = read_sheet(RawFile(path.name, path.read_bytes()), declarations)
        except UnreadableSheetError:
            continue
        for pair in book.library.pairs():
            rules = book.library.effective(*pair)
            measured = [measure(negative) for negative in sheet.negatives]
            for one in measured:
                others = tuple(other for other in measured if other is not one)
                yield Subject(one, rules, book.register, arrived, site.time_zone, others=others)


@pytest.fixture(scope="module")
def asked():
    """Every path that each check asked for, and the checks that its findings name."""
    paths, names = defaultdict(set), defaultdict(set)
    for subject in subjects():
        for check in CHECKS:
            spy = Asked(subject.rules)
            watched = Subject(
                subject.measured, spy, subject.register, subject.arrived, subject.time_zone,
                subject.others,
            )  # fmt: skip
            found = list(check.judge(watched))
            paths[check.NAME] |= spy.paths
            names[check.NAME] |= {finding.rule.split(".", 1)[0] for finding in found}
    return paths, names


@pytest.mark.parametrize("name", [check.NAME for check in CHECKS])
def test_check_asks_only_for_rules_that_are_known_to_concern_it(name, asked):
    paths = asked[0][name]
    assert paths
    assert [path for path in paths if name not in sections_of(path)] == []


@pytest.mark.parametrize("name", [check.NAME for check in CHECKS])
def test_findings_of_a_check_bear_its_own_name(name, asked):
    assert asked[1][name] <= {name}
