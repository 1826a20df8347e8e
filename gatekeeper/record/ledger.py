"""Filed jobs into the history, and what could not be told into an outbox until it can.

The history is never in the path of a decision: while it is away the gate goes on, and catches up in
order, once.
"""

from __future__ import annotations

import contextlib
import logging
from dataclasses import dataclass, field
from functools import partial
from itertools import islice
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from gatekeeper.case import FilmUse
from gatekeeper.filing.folder import VERDICT, read_record
from gatekeeper.filing.trouble import undecided
from gatekeeper.history import FiledSheet, FiledVerdict, HistoryAwayError
from gatekeeper.history.interface import EventKind, UnrecordableError
from gatekeeper.record.outbox import Outbox, Untold, UntoldEvent
from gatekeeper.record.sheets_told import read_again, readings_of, told_sheets
from gatekeeper.system_errors import error_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from gatekeeper.filing.disk import Disk
    from gatekeeper.history.record import History
    from gatekeeper.readers.interface import Declarations
    from gatekeeper.sheet import Sheet
    from gatekeeper.verdict import Verdict

OUTBOX = "outbox"
AT_ONCE = 50
"""Verdicts that are told late in one transaction."""
AT_MOST = 10
"""Transactions in one attempt: new jobs do not wait for the end of a long tale."""

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Story:
    """What the history, the outbox and other software are told of one filed job."""

    filed: Path
    untold: Untold
    verdict: FiledVerdict

    @property
    def names(self) -> Iterator[str]:
        """The job, its folder, and the stems under which its sheets were dropped."""
        yield self.untold.verdict.job
        yield self.filed.name
        for sheet in self.untold.verdict.sheets:
            yield PurePosixPath(sheet.dropped_as or sheet.name).stem


@dataclass
class Ledger:
    """The gate's way to the history."""

    history: History
    disk: Disk
    site: str
    root: Path  # of the site: folders are recorded relative to it
    outbox: Path
    declarations: Callable[[], Declarations]
    now: Callable[[], datetime]
    announce: Callable[[Verdict, Path, str], None] = field(default=lambda *_: None)
    away: str = ""  # why the history cannot be used, empty while it can
    _untold: Outbox = field(init=False)
    _names: set[str] = field(default_factory=set)
    _was_filled: bool = False

    def __post_init__(self) -> None:
        self._untold = Outbox(self.disk, self.outbox)

    # -- asking -------------------------------------------------------------------------------

    def job_of_digest(self, sha256: str, *, other_than: str) -> str | None:
        """Return another job that was judged by the same bytes, empty where there is none.

        None: nobody knows, because the history is away.
        """
        try:
            known = self.history.known_digest(sha256, other_than_job=other_than)
        except HistoryAwayError as error:
            self._is_away(error)
            return None
        return known.job if known else ""

    def job_of_digits(self, digits: str, *, ticket: str, other_than: str) -> FilmUse | None:
        """Return another job whose film had the same digits, nearest in time to a ticket.

        Empty where there is none; None: nobody knows, because the history is away.
        """
        try:
            known = self.history.known_digits(digits, ticket=ticket, other_than_job=other_than)
        except HistoryAwayError as error:
            self._is_away(error)
            return None
        return FilmUse(known.job, known.ticket) if known else FilmUse()

    def folders_with_stem(self, stem: str) -> list[tuple[str, str]]:
        """Return (workflow, job) of jobs whose sheets were dropped under a stem, newest first."""
        try:
            lines = self.history.jobs_with_stem(stem)
        except HistoryAwayError as error:
            self._is_away(error)
            return []
        return [(line.workflow, line.job) for line in lines]

    def newest_ticket(self) -> str:
        """Return the ticket that was filed last, empty where none is known."""
        with contextlib.suppress(HistoryAwayError):
            for line in self.history.jobs(limit=1):
                return line.ticket
        return ""

    # -- telling ------------------------------------------------------------------------------

    def remember(self, filed: Path, sheets: Mapping[str, Sheet]) -> None:
        """Record a filed job; while the history is away, lay it into the outbox instead.

        Parameters
        ----------
        sheets : by name, as they were read for the verdict; others are read again
        """
        story = self.story_of(filed, sheets)
        for error in self.tell([story]):
            if error:
                raise error
        self.announce_filed(story)

    def story_of(self, filed: Path, sheets: Mapping[str, Sheet]) -> Story:
        """Return what there is to tell of a filed job."""
        record = read_record(self.disk, filed / VERDICT)
        if record is None:
            raise undecided(filed)
        moment = self.now().isoformat(timespec="seconds")
        untold = Untold(record.verdict, self._relative(filed), moment)
        return Story(filed, untold, self._filed_verdict(untold, sheets))

    def have_filled(self) -> None:
        """Take to note that a history that was begun anew holds what the job folders tell."""
        self.history.is_filled()
        self._was_filled = True

    def take_filling(self) -> bool:
        """Whether the history was filled since the last call, so that it knows jobs of any name."""
        was_filled, self._was_filled = self._was_filled, False
        return was_filled

    def take_names(self) -> set[str]:
        """Return the jobs told of since the last call, and the stems of their sheets."""
        names, self._names = self._names, set()
        return names

    def tell(self, stories: Sequence[Story]) -> list[Exception | None]:
        """Record filed jobs in one transaction, and return what became of each.

        While the history is away they are laid into the outbox. One that can never be a row does
        not keep the others out.
        """
        self._names.update(name for story in stories for name in story.names)
        try:
            self.history.remember_many([story.verdict for story in stories])
        except HistoryAwayError as error:
            if isinstance(error, UnrecordableError) and len(stories) > 1:
                return [result for story in stories for result in self.tell([story])]
            self._is_away(error)
            return [error_of(partial(self._untold.put, story.untold)) for story in stories]
        self._is_back()
        return [None] * len(stories)

    def announce_filed(self, story: Story) -> None:
        """Tell other software, before the ticket is cleared: after a kill it comes by again."""
        self.announce(story.untold.verdict, story.filed, story.untold.filed_at)

    def note(self, kind: EventKind, subject: str, document: Mapping[str, object]) -> None:
        """Append an event to the audit chain; while the history is away lay it into the outbox."""
        try:
            self.history.note(kind, subject, document)
        except HistoryAwayError as error:
            self._is_away(error)
            try:
                self._untold.put_event(kind.value, subject, document, self.now())
            except OSError as trouble:
                log.warning("not in the history: %s %s (%s)", kind.value, subject, trouble.strerror)

    def catch_up(self) -> None:
        """Tell the history what it missed, oldest first; what it will not take stays.

        While it is away the first question ends the attempt: ten thousand files are not read again
        at each round.
        """
        refused = ""
        try:
            for batch in islice(_batches(self._untold.waiting()), AT_MOST):
                refused = self._tell_late(batch) or refused
        except HistoryAwayError as error:
            refused = error.line
        if refused:
            self.away = refused
        elif self.away and self._answers():
            self._is_back()

    def _tell_late(self, batch: Sequence[Untold | UntoldEvent]) -> str:
        """Tell what waited, and return why something of it can never be told."""
        try:
            self._tell_in_order(batch)
        except UnrecordableError as error:
            if len(batch) == 1:
                return error.line
            reasons = [self._tell_late([one]) for one in batch]
            return next(filter(None, reasons), "")
        for untold in batch:
            self._untold.remove(untold)
        return ""

    def _tell_in_order(self, batch: Sequence[Untold | UntoldEvent]) -> None:
        self.history.remember_many(
            [self._filed_verdict(untold, {}) for untold in batch if isinstance(untold, Untold)]
        )
        for event in batch:
            if isinstance(event, UntoldEvent):
                late = {"happened_at": event.happened_at, "told_late": event.name}
                document = {**event.document, **late}
                self.history.note(EventKind(event.kind), event.subject, document, once=event.name)

    def _answers(self) -> bool:
        try:
            self.history.jobs(limit=1)
        except HistoryAwayError as error:
            self.away = error.line
            return False
        return True

    def _is_away(self, error: HistoryAwayError) -> None:
        if not self.away:
            log.warning("the history is away: %s", error.what)
        self.away = error.line

    def _is_back(self) -> None:
        if self.away:
            log.info("the history is back")
        self.away = ""

    # -- what is told -------------------------------------------------------------------------

    def _relative(self, folder: Path) -> str:
        inside = folder.is_relative_to(self.root)
        return str(folder.relative_to(self.root)) if inside else str(folder)

    def _filed_verdict(self, untold: Untold, sheets: Mapping[str, Sheet]) -> FiledVerdict:
        verdict = untold.verdict
        folder = self.root / untold.folder
        read = {
            judged.name: sheets.get(judged.name)
            or read_again(self.disk, folder / judged.name, judged.sha256, self.declarations())
            for judged in told_sheets(verdict)
        }
        return FiledVerdict(
            site=self.site,
            verdict=verdict,
            folder=untold.folder,
            filed_at=untold.moment,
            sheets=tuple(
                FiledSheet(name, sheet, readings_of(sheet)) for name, sheet in read.items() if sheet
            ),
        )


def _batches(
    waiting: Iterable[Untold | UntoldEvent],
) -> Iterator[list[Untold | UntoldEvent]]:
    """Yield verdicts in groups, a transaction each, and every event alone, in the order given."""
    batch: list[Untold | UntoldEvent] = []
    for untold in waiting:
        if isinstance(untold, UntoldEvent):
            if batch:
                yield batch
            yield [untold]
            batch = []
            continue
        batch.append(untold)
        if len(batch) == AT_ONCE:
            yield batch
            batch = []
    if batch:
        yield batch
