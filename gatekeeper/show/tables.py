"""Lists of jobs: for `gatekeeper jobs`, and to sum up a pass over the drop folders."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.show.facts import one_line
from gatekeeper.show.lines import GAP, columns, cut, padded
from gatekeeper.show.screen import words
from gatekeeper.verdict import Decision
from gatekeeper.wording import counted, plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from gatekeeper.verdict import Verdict

_HEAD = ("", "job", "workflow", "customer")
_WIDEST = (10, 24, 22, 26)  # of decision, job, workflow and customer
_NARROWEST_REASON = 24
_WIDEST_LINE = 160  # beyond this the eye loses the line


@dataclass(frozen=True, slots=True)
class JobRow:
    """One job in a list. `state` is a decision, or another word such as waiting."""

    state: str
    job: str
    workflow: str
    customer: str
    reason: str


def row_of(verdict: Verdict) -> JobRow:
    """Return the row of a judged job; held stands out without any colour."""
    return JobRow(
        state="HELD" if verdict.decision is Decision.HELD else "approved",
        job=verdict.job,
        workflow=verdict.workflow,
        customer=verdict.customer,
        reason=one_line(verdict),
    )


def job_lines(rows: Sequence[JobRow], width: int = 80) -> list[str]:
    """Return the list under its head; reasons stand behind the rows if all fit, else below."""
    cells = [_HEAD, *((row.state, row.job, row.workflow, row.customer) for row in rows)]
    shown = [
        [cut(plain(cell), most) for cell, most in zip(line, _WIDEST, strict=True)] for line in cells
    ]
    widths = [max(map(columns, column)) for column in zip(*shown, strict=True)]
    starts = [GAP.join(map(padded, line, widths)) for line in shown]
    reasons = ["why", *(plain(row.reason, 400) for row in rows)]
    room = width - columns(starts[0]) - len(GAP)
    if max(map(columns, reasons)) <= room or room >= 2 * _NARROWEST_REASON:
        lines = [start + GAP + reason for start, reason in zip(starts, reasons, strict=True)]
    else:
        indent = " " * widths[0] + GAP
        lines = [starts[0] + GAP + "why: below" * (room >= len("why: below"))]
        for start, reason in zip(starts[1:], reasons[1:], strict=True):
            lines += [start, indent + reason]
    return [cut(line.rstrip(), width) for line in lines]


def counts_line(rows: Sequence[JobRow]) -> str:
    """Return how many jobs there are in each state: `12 jobs: 5 HELD, 7 approved`."""
    states = Counter(plain(row.state) for row in rows)
    parts = ", ".join(f"{number} {state}" for state, number in sorted(states.items()))
    return f"{counted(len(rows), 'job')}: {parts}" if rows else "no jobs"


def print_jobs(console: Console, rows: Sequence[JobRow]) -> None:
    """Print the list and the counts, as wide as the terminal; in a pipe 80 columns of text."""
    lines = job_lines(rows, min(console.width, _WIDEST_LINE)) if rows else []
    for line in [*lines, *([""] if lines else []), counts_line(rows)]:
        console.print(words(console, line), no_wrap=True, overflow="ignore", crop=False)
