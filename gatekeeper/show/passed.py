"""What passed, grouped so that each file and each negative is named once and a row fits a line."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.show.limits import Edge, Figures, edge_of, figures_of
from gatekeeper.show.lines import LONGEST
from gatekeeper.show.odds import NEARLY_CERTAIN, odds_of
from gatekeeper.verdict import Outcome
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator

    from gatekeeper.verdict import Finding

_GIVEN = "given"  # limit of a field that must be filled in, and what is said of one that is
_MUST_BE_GIVEN = "required."


class Passed(NamedTuple):
    """One limit that a reading was compared with, and met."""

    rule: str
    figures: Figures
    line: str
    edge: Edge | None


@dataclass(frozen=True, slots=True)
class PassedGroup:
    """What one negative passed under the limits of one file."""

    title: str
    said: tuple[tuple[str, str], ...]  # rule and words, where there is no limit to compare with
    compared: tuple[Passed, ...]


def passed_groups(findings: Iterable[Finding]) -> tuple[PassedGroup, ...]:
    """Return what passed by negative and by the file that sets the limits, in the order found."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        if finding.outcome is Outcome.PASS:
            key = plain(finding.separation), _file_and_line(finding.origin)[0]
            groups.setdefault(key, []).append(finding)
    return tuple(_group(*key, passed) for key, passed in groups.items())


def _group(separation: str, file: str, passed: Collection[Finding]) -> PassedGroup:
    title = ": ".join(filter(None, (separation, f"limits of {file}" if file else "")))
    given: dict[str, list[str]] = {}
    said: list[tuple[str, str]] = []
    compared: list[Passed] = []
    for finding in passed:
        rule, (_, line) = plain(finding.rule), _file_and_line(finding.origin)
        figures = figures_of(finding)
        if rule.startswith(_MUST_BE_GIVEN) and figures.measured == figures.asked == _GIVEN:
            given.setdefault(line, []).append(rule.removeprefix(_MUST_BE_GIVEN))
        elif figures.asked:
            compared.append(Passed(rule, figures, line, edge_of(finding)))
        else:
            said.append((rule, plain(finding.says, LONGEST)))
    for line, names in given.items():
        said.append(("required", f"{', '.join(names)}: {_GIVEN}" + (f" ({line})" if line else "")))
    said += _odds(passed)
    return PassedGroup(title, tuple(said), tuple(compared))


def _odds(passed: Iterable[Finding]) -> Iterator[tuple[str, str]]:
    """Yield the odds that are less than nearly certain one by one, and the others together."""
    odds = [(plain(found.rule), shown) for found in passed if (shown := odds_of(found))]
    doubtful = [f"{rule} {shown}" for rule, shown in odds if shown != NEARLY_CERTAIN]
    if len(doubtful) < len(odds):
        doubtful.append(f"{'all others' if doubtful else 'all'} {NEARLY_CERTAIN}")
    if doubtful:
        yield "odds", f"that the true value conforms: {', '.join(doubtful)}"


@lru_cache(1_024)  # the places of a site's limits, each in every report
def _file_and_line(written: str) -> tuple[str, str]:
    origin = plain(written, LONGEST)
    file, _, line = origin.rpartition(":")
    return (file, f"line {line}") if file and line.isdecimal() else (origin, "")
