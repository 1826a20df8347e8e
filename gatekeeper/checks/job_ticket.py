"""The job's own ticket: it can be read, is for this job, and only tightens what the rules ask.

Why    whoever may drop a sheet may drop a ticket; one that loosens a limit, or cannot be understood
       and might have been a tightening, must not end in a plate.
Keys   those of a customer's file, and `job`.
Source common practice.
Pass   `solid_density: {min: 2.95}` where the customer asks for 2.85.
Held   `solid_density: {min: 2.50}` there, or a key that nobody knows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import CHECK_TICKET, DROP_TICKET
from gatekeeper.verdict import Finding, Outcome, Step
from gatekeeper.wording import counted, listing, plain

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from gatekeeper.case import JobTicket
    from gatekeeper.rules.effective import Limit
    from gatekeeper.yamlfiles.places import FileProblem

RULE = "job.ticket"
MOST = 10
"""Problems that are said one by one."""

_LONGEST_NAME = 200


def judge_tickets(limits: Sequence[Limit], names: Sequence[str]) -> Iterator[Finding]:
    """Say what the tickets of a job ask, now that they are in force."""
    said = ", ".join(plain(name, _LONGEST_NAME) for name in names)
    asked = listing((limit.rule for limit in limits), MOST)
    what = f"sets {counted(len(limits), 'limit')}: {asked}" if limits else "asks nothing more"
    yield Finding("job", RULE, Outcome.PASS, f"the job ticket {said} {what}")


def refused_tickets(problems: Sequence[FileProblem]) -> Iterator[Finding]:
    """Hold the job for what is wrong in its tickets, each with its line and what to write."""
    for problem in problems[:MOST]:
        step = Step(CHECK_TICKET.order, f"In {problem.place}: {problem.do}.")
        yield Finding(
            "job",
            RULE,
            Outcome.HOLD,
            f"job ticket {problem.place.exact}: {problem.what}",
            origin=str(problem.place),
            do=(step, DROP_TICKET),
        )
    if len(problems) > MOST:
        more = counted(len(problems) - MOST, "more problem")
        says = f"the job's tickets have {more}"
        yield Finding("job", RULE, Outcome.HOLD, says, do=(CHECK_TICKET, DROP_TICKET))


def troubled_tickets(tickets: Iterable[JobTicket]) -> Iterator[Finding]:
    """Hold the job for tickets that are not what was judged before."""
    for ticket in tickets:
        if ticket.trouble:
            says = f"job ticket {plain(ticket.name, _LONGEST_NAME)}: {ticket.trouble.says}"
            yield Finding("job", RULE, Outcome.HOLD, says, do=(DROP_TICKET,))
