"""The verdict on a job whose sheet must not be read again: held, and nothing of it is judged.

Reading this sheet, or judging the job with it, ended the program or failed inside it. So nothing is
read or judged here, not even the job's earlier sheets; they keep counting as they did.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from gatekeeper.case import READ_AS_SLIP
from gatekeeper.checks.advice import CALL_LEAD, EXPORT_AGAIN, NO_PLATE
from gatekeeper.checks.job import READABLE
from gatekeeper.filing.folder import digest_in
from gatekeeper.judge import PROGRAM
from gatekeeper.verdict import Decision, Finding, JudgedSheet, Outcome, Verdict
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from gatekeeper.filing.desk import Desk, JobName
    from gatekeeper.filing.laying import OnBench
    from gatekeeper.intake.reading import ReadSheet


def held_unread(desk: Desk, read: ReadSheet, name: JobName, on_bench: OnBench) -> Verdict:
    """Return the verdict: held, for the reason why the sheet is not read."""
    earlier = on_bench.earlier.verdict if on_bench.earlier else None
    before = tuple(_as_it_lies(desk, sheet) for sheet in (earlier.sheets if earlier else ()))
    new = JudgedSheet(
        on_bench.sheet_name,
        read.sha256,
        desk.ticket.sheet_id,
        dropped_as=desk.ticket.sheet.own_name,
    )
    reason = read.problem.says if read.problem else "it was not read"
    finding = Finding(
        check="sheet",
        rule=READABLE,
        outcome=Outcome.HOLD,
        says=f"{plain(on_bench.sheet_name)} is not read and the job is not judged: {reason}",
        do=(EXPORT_AGAIN, NO_PLATE, CALL_LEAD),
    )
    return Verdict(
        ticket=desk.ticket.id,
        job=name.job,
        workflow=name.workflow,
        customer=earlier.customer if earlier else "",
        decision=Decision.HELD,
        rules_fingerprint="",
        arrived=desk.ticket.arrived,
        program=PROGRAM,
        findings=(finding,),
        sheets=(*before, new),
        companions=on_bench.others,
        job_tickets=earlier.job_tickets if earlier else (),
        was=earlier.decision.value if earlier else "",
        measurements=1 + sum(sheet.read_as != READ_AS_SLIP for sheet in before),
    )


def _as_it_lies(desk: Desk, judged: JudgedSheet) -> JudgedSheet:
    """Return an earlier sheet with the digest that it has now; what a hand changed is not read."""
    digest = (digest_in(desk.job, judged.name) or "") if judged.sha256 else ""
    read_as = judged.read_as if digest == judged.sha256 else ""
    return replace(judged, sha256=digest, read_as=read_as)
