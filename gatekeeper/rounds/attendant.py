"""Takes tickets through the gate one by one, and says of each what came of it.

One job's failure is that job's: whatever happens to a ticket is said in the outlook, and the next
one is worked on.
"""

from __future__ import annotations

import contextlib
import logging
from datetime import timedelta
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError, RulesError
from gatekeeper.filing import trouble
from gatekeeper.filing.attempts import noted_job
from gatekeeper.filing.claim import give_back, number_anew
from gatekeeper.filing.clearing import discard
from gatekeeper.filing.folder import VERDICT, read_record
from gatekeeper.filing.tickets import made_at
from gatekeeper.gate import Tools, pass_gate
from gatekeeper.intake.readiness import rules_reason
from gatekeeper.logs import fields
from gatekeeper.rounds.outlook import FiledJob, Outlook, Waiting, in_words
from gatekeeper.show.facts import one_line
from gatekeeper.wording import plain
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from gatekeeper.filing.desk import Desk
    from gatekeeper.filing.disk import Disk

COMES_ANEW = "arrives anew: a ticket of a clock that is ahead was filed before it"
FAILED = "fails inside the program; see the log"
HELD_UNREAD = "the program failed on this sheet; the log says how"

_AT_ONCE_S = 0.01
_WAITED_S = 60.0
"""A ticket that is older (s) has waited for something: its sheet keeps its place in the order."""

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
            return self._comes_behind(desk, tools, outlook, error.ticket)
        if passed is None:
            return None
        outlook.filed.append(_told(tools.disk, passed.folder))
        self.filed += 1
        return passed.further

    def _comes_behind(self, desk: Desk, tools: Tools, outlook: Outlook, filed: str) -> Desk | None:
        """Give a ticket an id behind that of the one that was filed first.

        Where that one is ahead of every id that this gate gave, another clock made it, and the two
        do not tell which sheet came first. What has just come goes back to the drop folder then and
        arrives behind it, or else the newest measurement would pass for an older one.
        """
        now = tools.clock.now()
        is_of_another_clock = tools.ids.is_ahead(filed)
        tools.ids.follow([filed])
        if is_of_another_clock and _has_just_come(desk, now) and give_back(tools.disk, desk):
            discard(tools.disk, desk)
            workflow = desk.ticket.workflow or "."
            outlook.waiting.append(
                Waiting(workflow, _name(desk), COMES_ANEW, _AT_ONCE_S, is_settling=True)
            )
            return None
        return number_anew(tools.disk, desk, tools.ids.next(now))

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


def _has_just_come(desk: Desk, now: datetime) -> bool:
    made = made_at(desk.ticket.sheet_id)
    return made is not None and abs(now - made) < timedelta(seconds=_WAITED_S)


def _rests(desk: Desk, tools: Tools, outlook: Outlook, reason: str, due_s: float | None) -> None:
    """Say that a ticket waits, and keep later sheets of its job behind it.

    A sheet that could not be claimed lies in drop still: it has its ticket and gets no other.
    """
    with contextlib.suppress(RoomError, OSError):  # which is why it waits
        if desk.ticket.sheet.is_of(tools.disk.lstat(desk.sheet_in_drop)):
            tools.unclaimed.add(desk.sheet_in_drop)
        name = noted_job(tools.disk, desk)
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
