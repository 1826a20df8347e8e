"""Meters on a terminal: their checks as a trend, and the jobs that a failed check doubts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.show.lines import WIDTH, table, wrapped
from gatekeeper.show.moments import moment
from gatekeeper.wording import counted, plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import tzinfo

    from gatekeeper.control.meter_doubt import Doubt
    from gatekeeper.control.tablet import PastCheck


def doubt_lines(found: Sequence[Doubt], zone: tzinfo) -> Iterator[str]:
    """Yield each doubt, and the jobs that it puts in question."""
    if not found:
        yield "no meter is in doubt: its newest check is good, or none was made"
    for number, doubt in enumerate(found):
        if number:
            yield ""
        yield from wrapped(doubt_says(doubt, zone), WIDTH)
        rows = [
            (
                "approved" if job.approved else "held",
                plain(job.job),
                plain(job.workflow),
                f"measured {moment(job.measured_at, zone)}",
            )
            for job in doubt.jobs
        ]
        yield from table(rows, WIDTH, indent="  ")


def doubt_says(doubt: Doubt, zone: tzinfo) -> str:
    """Return a doubt in one sentence."""
    since = f"since {moment(doubt.since, zone)}" if doubt.since else "so far"
    passed = sum(job.approved for job in doubt.jobs)
    if not doubt.jobs:
        jobs = "no job was measured with it"
    elif passed:
        jobs = f"{counted(passed, 'approved job')} may have passed wrongly"
    else:
        jobs = "no job that it measured is approved"
    return (
        f"meter {plain(doubt.meter)} failed its check on {moment(doubt.failed_at, zone)}: "
        f"{since} {jobs}"
    )


def check_lines(found: Sequence[PastCheck], zone: tzinfo) -> Iterator[str]:
    """Yield one row a check: when, how the worst step read, and whether it passed."""
    if not found:
        yield "no check of this meter is on record"
        return
    rows = [("", "checked", "worst step", "read", "certified", "E_n")]
    for check in found:
        worst = check.worst
        mark = "" if check.passed else "FAILED"
        if worst is None:
            rows.append((mark, moment(check.at, zone), "", "", "", ""))
            continue
        rows.append(
            (
                mark,
                moment(check.at, zone),
                plain(worst.step),
                f"{worst.density:.3f}",
                f"{worst.certified:.3f}",
                f"{worst.en:+.2f}",
            )
        )
    yield from table(rows, WIDTH)
