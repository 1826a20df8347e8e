"""`report.txt`: one verdict as plain text of at most 78 columns, for a screen or for paper.

Pure: equal verdicts give equal text. The words and signs of the program are ASCII, so that the
report can be read where the other letters of a name cannot be shown.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.show.facts import details_of, facts_of
from gatekeeper.show.lines import WIDTH, cut, padded, table, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from gatekeeper.show.facts import Reason, ReportFacts
    from gatekeeper.show.passed import Passed, PassedGroup
    from gatekeeper.show.steps import ToDo
    from gatekeeper.verdict import Verdict

_INDENT = " " * 4
_LABEL = 14  # columns of a label and the blanks behind it
_DETAIL = 10  # the same within a reason


def report_text(verdict: Verdict, *, title: str = "") -> str:
    """Return the report; `title` is what people call the workflow."""
    lines = _lines(facts_of(verdict, title=title))
    return "".join(f"{line.rstrip()}\n" for line in lines)


def _lines(facts: ReportFacts) -> Iterator[str]:
    yield from _top(facts)
    yield from _section(facts.reasons_title, _reasons(facts.reasons))
    yield from _section("what to do next", _to_do(facts.to_do))
    yield from _section("what passed", _passed(facts.passed))
    yield from _section("meter, film and curve", _labelled(facts.status))
    yield from _section("measured more than once", _labelled(facts.readings))
    yield from _section("not judged", table(facts.not_judged or [("nothing", "")]))
    yield from _section("notes", _notes(facts.notes))
    yield from _section("record", _labelled(facts.foot))


def _top(facts: ReportFacts) -> Iterator[str]:
    yield cut(f"{facts.headline}  job {facts.job}", WIDTH)
    yield "=" * WIDTH
    yield from wrapped(facts.summary)
    if facts.warning:
        yield ""
        yield from wrapped(facts.warning, first="!!  ", rest=_INDENT)
    yield ""
    yield from _labelled(facts.head)


def _section(title: str, lines: Iterable[str]) -> Iterator[str]:
    """Yield a title and its lines, or nothing where there are none."""
    body = list(lines)
    if body:
        yield from ("", title.upper(), "-" * WIDTH)
        yield from body


def _labelled(
    rows: Iterable[tuple[str, str]], width: int = _LABEL, indent: str = ""
) -> Iterator[str]:
    for label, text in rows:
        first = indent + padded(cut(label, width - 1, mark="."), width)
        yield from wrapped(text, first=first, rest=indent + " " * width)


def _reasons(reasons: Iterable[Reason]) -> Iterator[str]:
    for reason in reasons:
        if reason.number > 1:
            yield ""
        verb = "" if reason.judged else "COULD NOT BE JUDGED: "
        yield from _numbered(reason.number, verb + reason.says)
        yield from _labelled(details_of(reason), _DETAIL, _INDENT)


def _to_do(steps: Sequence[ToDo]) -> Iterator[str]:
    if any(step.reasons for step in steps):
        yield "In brackets: the reasons above that ask for a step."
    for number, step in enumerate(steps, start=1):
        numbers = ",".join(map(str, step.reasons))
        yield from _numbered(number, f"{step.says} [{numbers}]" if numbers else step.says)
        if step.caution:
            first = f"{_INDENT}!!  "
            yield from wrapped(f"CAUTION: {step.caution}", first=first, rest=2 * _INDENT)


def _numbered(number: int, text: str) -> list[str]:
    return wrapped(text, first=f"{number:>2}  ", rest=_INDENT)


def _passed(groups: Iterable[PassedGroup]) -> Iterator[str]:
    for group in groups:
        if group.title:
            yield from wrapped(group.title)
        yield from table(group.said, indent="  ")
        yield from table(map(_row, group.compared), indent="  ")


def _row(item: Passed) -> tuple[str, ...]:
    return item.rule, item.figures.measured or "yes", item.figures.asked, item.line


def _notes(notes: Iterable[str]) -> Iterator[str]:
    for note in notes:
        yield from wrapped(note, first="-   ", rest=_INDENT)
