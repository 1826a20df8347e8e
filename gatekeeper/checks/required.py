"""Required fields: every line of the sheet's head that the workflow asks for must be filled in.

Why    a job that cannot be told from another, or whose meter and film nobody knows, proves nothing
       afterwards.
Keys   required: a list of fields by the names that sheets use.
Source common practice; ISO 9001:2015, 8.5.2 asks for such traces (from memory).
Pass   `required: [job, meter]`; the sheet has `job,1041` and `meter,T-04`.
Held   the sheet has no line `meter`, or nothing behind it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import FILL_IN
from gatekeeper.checks.interface import Subject, answer
from gatekeeper.sheet import FIELDS
from gatekeeper.verdict import Finding, Outcome

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.effective import Limit

NAME = "required"


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer each required field."""
    for limit in subject.rules.under(NAME):
        yield _field(subject, limit)


def _field(subject: Subject, limit: Limit) -> Finding:
    name = limit.path[1]
    attribute = FIELDS[name].attribute
    # The kind of sheet belongs to the whole file and is always known: it is no attribute here.
    value = getattr(subject.negative, attribute) if attribute else "given"
    if value is None:
        says = f"the sheet does not give: {name}"
        return answer(subject, limit, Outcome.HOLD, says, measured="missing", do=(FILL_IN,))
    trace = getattr(value, "trace", None)
    return answer(subject, limit, Outcome.PASS, f"{name} is given", measured="given", trace=trace)
