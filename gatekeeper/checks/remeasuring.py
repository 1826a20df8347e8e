"""Remeasuring: one negative is measured a few times, not until it passes.

Why    each measurement scatters a little: of a film that just misses its limit, one in a few reads
       on the good side. Whoever measures on until that one comes has chosen a number, not found it.
Keys   remeasuring: sign_off_after (measurements of one negative that may count by themselves; with
       one more the job is held, however it reads, until a lead releases it).
       Counted are the sheets in the job's folder, by separation and film: what was printed at
       another time is another film, and a sheet that gives no time of printing counts for each.
       The same file dropped twice in a row is one measurement; dropped again after another it is
       one more, for that is choosing among readings.
Source common practice in sampling: a repeat needs a reason, and no result is left out. The
       arithmetic: at a true value on the limit half of all readings pass, so that of four in a row
       one passes in 15 cases of 16.
Pass   sign_off_after 3; the third measurement reads 2.72 where 2.70 is asked.
Held   sign_off_after 3; the fourth reads 2.72 after 2.66, 2.68 and 2.69.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import CALL_LEAD, SHOW_READINGS
from gatekeeper.checks.compare import at_most
from gatekeeper.checks.interface import Subject, answer, answers, outcome_of
from gatekeeper.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.effective import Limit
    from gatekeeper.verdict import Finding

NAME = "remeasuring"


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer how often this negative was measured."""
    yield from answers(subject, NAME, _ANSWERS)


def _sign_off(subject: Subject, limit: Limit) -> Finding:
    number = 1 + sum(before.is_same_film for before in subject.earlier)
    holds = at_most(number, limit.number)
    says = f"measured {counted(number, 'time')}"
    if not holds:
        says = (
            f"this negative was measured {counted(number, 'time')}: after {limit} "
            "a lead has to sign off, whatever the last one reads"
        )
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        says,
        measured=float(number),
        off=number - limit.number,
        do=(SHOW_READINGS, CALL_LEAD),
    )


_ANSWERS = {"sign_off_after": _sign_off}
