"""`gatekeeper why`: the report of a verdict on a terminal.

Words come first, then shapes; weight and reversal only repeat what they say, and no colour is used,
because safelight takes the colours away. Readings stand on a small scale beside their limit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from gatekeeper.show.earlier import courses, judgements
from gatekeeper.show.facts import details_of, facts_of
from gatekeeper.show.scale import ASCII, DRAWN, Signs, legend, scale
from gatekeeper.show.screen import words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from rich.console import Console, RenderableType

    from gatekeeper.show.earlier import Course
    from gatekeeper.show.facts import Reason, ReportFacts
    from gatekeeper.show.passed import Passed, PassedGroup
    from gatekeeper.show.steps import ToDo
    from gatekeeper.verdict import Verdict

_WIDEST = 120  # columns: the eye loses a longer line
_LOUD = "bold reverse"
_TITLE = "bold underline"
_STRONG = "bold"


def print_report(
    console: Console, verdict: Verdict, *, title: str = "", earlier: Sequence[Verdict] = ()
) -> None:
    """Print the reason in full and what to do.

    Parameters
    ----------
    title : what people call the workflow
    earlier : the job's verdicts before this one, oldest first
    """
    width = min(console.width, _WIDEST)
    page = _Page(console)
    parts = [*page.parts(facts_of(verdict, title=title)), *page.history([*earlier, verdict])]
    if console.is_terminal:
        for part in parts:
            console.print(part, width=width, highlight=False)
        return
    # Cells are padded to their column's width; in a file that would be blanks for nothing.
    with console.capture() as printed:
        for part in parts:
            console.print(part, width=width, highlight=False)
    console.file.writelines(f"{line.rstrip()}\n" for line in printed.get().splitlines())


class _Page:
    """The parts of a report in the order in which a person at the bench needs them."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._signs: Signs = ASCII if console.options.ascii_only else DRAWN

    def parts(self, facts: ReportFacts) -> Iterator[RenderableType]:
        """Yield what is printed, from the decision down to the record."""
        yield from self._top(facts)
        yield from self._section(facts.reasons_title, self._reasons(facts.reasons))
        yield from self._section("what to do next", self._to_do(facts.to_do))
        yield from self._section("what passed", self._passed(facts.passed))
        yield from self._section("meter, film and curve", self._rows(facts.status))
        yield from self._section("measured more than once", self._rows(facts.readings))
        yield from self._section("not judged", self._rows(facts.not_judged or [("nothing", "")]))
        yield from self._section("notes", self._rows(("-", note) for note in facts.notes))
        yield from self._section("record", self._rows(facts.foot))

    def history(self, verdicts: Sequence[Verdict]) -> Iterator[RenderableType]:
        """Yield how the job was judged before, or nothing where this is its first verdict."""
        if len(verdicts) == 1:
            return
        rows = [
            (f"{entry.number:>2}", entry.arrived, entry.decision, entry.why)
            for entry in judgements(verdicts)
        ]
        moved = [self._course(course) for course in courses(verdicts)]
        told: list[RenderableType] = [_block(tuple(map(self._words, row)) for row in rows)]
        told += [Text(), _block(moved)] if moved else []
        yield from self._section("history of its measurements", told)

    def _course(self, course: Course) -> tuple[Text, ...]:
        readings = ", then ".join(course.readings)
        return self._words(course.limit), self._words(readings), self._words(course.asked)

    def _words(self, text: str, style: str = "") -> Text:
        return words(self._console, text, style)

    def _top(self, facts: ReportFacts) -> Iterator[RenderableType]:
        headline = self._words(f" {facts.headline} ", _LOUD)
        yield Text.assemble(headline, self._words(f"  job {facts.job}", _STRONG))
        yield self._words(facts.summary)
        if facts.warning:
            yield self._words(f"!! {facts.warning}", _STRONG)
        yield Text()
        yield from self._rows(facts.head)

    def _section(self, title: str, parts: Iterable[RenderableType]) -> Iterator[RenderableType]:
        body = list(parts)
        if body:
            yield Text()
            yield self._words(title.upper(), _TITLE)
            yield from body

    def _rows(self, rows: Iterable[tuple[str, str]]) -> list[RenderableType]:
        """Return labels and what they label as one aligned block, or nothing."""
        lines = [(self._words(label), self._words(text)) for label, text in rows]
        return [_block(lines)] if lines else []

    def _reasons(self, reasons: Iterable[Reason]) -> Iterator[RenderableType]:
        for reason in reasons:
            verb = "" if reason.judged else "COULD NOT BE JUDGED: "
            yield self._numbered(reason.number, verb + reason.says, _STRONG)
            yield from (
                Padding(details, (0, 0, 0, 4)) for details in self._rows(self._details(reason))
            )

    def _details(self, reason: Reason) -> Iterator[tuple[str, str]]:
        drawn = scale(reason.edge, self._signs) if reason.edge else ""
        if reason.edge and drawn:
            drawn += f"  {legend(reason.edge, self._signs)}"
        return details_of(reason, drawn)

    def _numbered(self, number: int, text: str, style: str = "") -> RenderableType:
        return _block([(self._words(f"{number:>2}"), self._words(text, style))])

    def _to_do(self, steps: Iterable[ToDo]) -> Iterator[RenderableType]:
        for number, step in enumerate(steps, start=1):
            asked_by = ",".join(map(str, step.reasons))
            says = f"{step.says} [{asked_by}]" if asked_by else step.says
            yield self._numbered(number, says)
            if step.caution:
                caution = self._words(f"!! CAUTION: {step.caution}", _STRONG)
                yield Padding(caution, (0, 0, 0, 4))

    def _passed(self, groups: Iterable[PassedGroup]) -> Iterator[RenderableType]:
        for group in groups:
            if group.title:
                yield self._words(group.title)
            blocks = self._rows(group.said)
            if group.compared:
                blocks.append(_block(map(self._compared, group.compared)))
            yield from (Padding(block, (0, 0, 0, 2)) for block in blocks)

    def _compared(self, item: Passed) -> tuple[Text, ...]:
        figures = item.figures
        drawn = scale(item.edge, self._signs, half=3) if item.edge else ""
        cells = (item.rule, figures.measured or "yes", figures.asked, drawn, item.line)
        return tuple(map(self._words, cells))


def _block(rows: Iterable[tuple[Text, ...]]) -> Table:
    """Return rows in aligned columns; what is too long is folded, never cut."""
    lines = list(rows)
    block = Table.grid(padding=(0, 2, 0, 0))
    for _ in range(len(lines[0])):
        block.add_column(overflow="fold")
    for line in lines:
        block.add_row(*line)
    return block
