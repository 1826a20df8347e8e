"""Required fields: is every line of the sheet's head filled in that the workflow asks for?

Why    a job that cannot be told from another, or whose meter and film nobody knows, proves nothing afterwards.
Keys   required: a list of fields by the names that sheets use.
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

NAME = "required"


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer each required field."""
    for limit in subject.rules.under(NAME):
        field = limit.path[1]
        attribute = FIELDS[field].attribute
        value = getattr(subject.negative, attribute) if attribute else "given"
        if value is None:
            yield answer(
                subject,
                limit,
                Outcome.HOLD,
                f"the sheet does not give: {field}",
                measured="missing",
                do=(FILL_IN,),
            )
        else:
            yield answer(
                subject,
                limit,
                Outcome.PASS,
                f"{field} is given",
                measured="given",
                trace=getattr(value, "trace", None),
            )
