"""Takes tickets through the gate one by one, and says of each what came of it.

One job's failure is that job's: whatever happens to a ticket is said in the outlook, and the next
one is worked on.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError, RulesError
from gatekeeper.filing import trouble
from gatekeeper.filing.attempts import noted_job
from gatekeeper.filing.claim import number_anew
from gatekeeper.filing.folder import VERDICT, read_record
from gatekeeper.gate import Tools, pass_gate
from gatekeeper.intake.readiness import rules_reason
from gatekeeper.logs import fields
from gatekeeper.rounds.outlook import FiledJob, Outlook, Waiting, in_words
from gatekeeper.show.facts import one_line
from gatekeeper.wording import plain
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Desk
    from gatekeeper.filing.disk import Disk

FAILED = "fails inside the program; see the log"
HELD_UNREAD = "the program failed on this sheet; the log says how"

log = logging.getLogger(__name__)


class Attendant:
    """Works on tickets for as long as the program runs."""

    def __init__(self, *, retry_s: float) -> None:
        self._retry_s = retry_s
        self.filed = 0  # jobs, so far
        self._failed: set[str] = set()  # tickets on which the program failed

    def work(self, desk: Desk, tools: Tools, outlook: Outlook) -> None:
        """Take one ticket through the gate, and what became another ticket on the way."""
        further: Desk | None = desk
        while further:
            further = self.work_once(further, tools, outlook)

    def work_once(self, desk: Desk, tools: Tools, outlook: Outlook) -> Desk | None:
        """Take one ticket through the gate; return what became another ticket on the way."""
        try:
            further = self._pass(desk, tools, outlook)
        except (RulesError, RoomError, OSError) as error:
            self._waits(desk, tools, outlook, error)
            return None
        except Exception:
            log.exception("a fault of the program while working on %s", _name(desk))
            return self._failed_on(desk, tools, outlook)
        self._failed.discard(desk.ticket.id)
        return further

    def _pass(self, desk: Desk, tools: Tools, outlook: Outlook) -> Desk | None:
        fault = HELD_UNREAD if desk.ticket.id in self._failed else ""
        try:
            passed = pass_gate(desk, tools, fault=fault)
        except trouble.OvertakenError as error:
            # Another gate's clock may be ahead by hours: to wait for its moment is no way behind.
            tools.ids.follow([error.ticket])
            return number_anew(tools.disk, desk, tools.ids.next(tools.clock.now()))
        if passed is None:
            return None
        outlook.filed.append(_told(tools.disk, passed.folder))
        self.filed += 1
        return passed.further

    def _failed_on(self, desk: Desk, tools: Tools, outlook: Outlook) -> Desk | None:
        """After a fault of the program hold the sheet unread; after the second let it rest."""
        if desk.ticket.id in self._failed:
            outlook.alarms.append(f"{_name(desk)} {FAILED}")
            _rests(desk, tools, outlook, FAILED, None)
            return None
        self._failed.add(desk.ticket.id)
        return self.work_once(desk, tools, outlook)

    def _waits(
        self, desk: Desk, tools: Tools, outlook: Outlook, error: RulesError | RoomError | OSError
    ) -> None:
        if isinstance(error, BrokenFilesError):
            _rests(desk, tools, outlook, rules_reason(error.problems), None)
            return
        is_alarm = not isinstance(error, (RulesError, trouble.WaitsError))
        if is_alarm:
            outlook.alarms.append(in_words(error))
        due_s = None if isinstance(error, RulesError) else self._retry_s
        _rests(desk, tools, outlook, in_words(error), due_s)


def _rests(desk: Desk, tools: Tools, outlook: Outlook, reason: str, due_s: float | None) -> None:
    """Say that a ticket waits, and keep later sheets of its job behind it."""
    try:
        name = noted_job(tools.disk, desk)
    except (RoomError, OSError):
        name = None  # which is why it waits
    if name:
        tools.busy.setdefault(name.place, desk.ticket.id)
    outlook.waiting.append(Waiting(desk.ticket.workflow or ".", _name(desk), reason, due_s))


def _name(desk: Desk) -> str:
    return plain(desk.ticket.sheet.own_name)


def _told(disk: Disk, folder: Path) -> FiledJob:
    record = read_record(disk, folder / VERDICT)
    if record is None:
        raise trouble.undecided(folder)
    verdict = record.verdict
    reason = one_line(verdict)
    decision = verdict.decision.value
    log.info(
        "%s %s%s",
        verdict.job,
        decision,
        f": {reason}" if reason else "",
        extra=fields(
            job=verdict.job,
            workflow=verdict.workflow,
            customer=verdict.customer,
            verdict=decision,
            ticket=verdict.ticket,
        ),
    )
    return FiledJob(
        job=verdict.job,
        workflow=verdict.workflow,
        customer=verdict.customer,
        decision=decision,
        reason=reason,
        folder=str(folder),
    )
