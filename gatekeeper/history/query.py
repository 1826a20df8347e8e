"""Questions to the history. Each is answered from an index, whatever the history's size."""

from __future__ import annotations

from contextlib import contextmanager
from operator import attrgetter
from typing import TYPE_CHECKING, Self

from sqlalchemy import and_, select

from gatekeeper.history import answers, audit, owners, rulings
from gatekeeper.history.carrying import carry_out, tell_nobody
from gatekeeper.history.interface import job_key
from gatekeeper.history.lists import newest_of_jobs
from gatekeeper.history.lot_stocks import lot_stocks
from gatekeeper.history.measured_films import each_measured_film, measured_films
from gatekeeper.history.outcomes import lately, outcomes
from gatekeeper.history.past import RuleSet
from gatekeeper.history.replay import Replay, Whose
from gatekeeper.history.schema import (
    events,
    judged,
    negatives,
    readings,
    rule_sets,
    sheets,
    tallies,
    verdicts,
)
from gatekeeper.history.schema import findings as finding_rows

if TYPE_CHECKING:
    from collections.abc import Iterator
    from contextlib import AbstractContextManager
    from datetime import datetime
    from pathlib import Path
    from types import TracebackType

    from gatekeeper.history.carrying import Form, Told
    from gatekeeper.history.database import Database
    from gatekeeper.history.past import (
        ChainReport,
        Counts,
        Event,
        JobLine,
        KnownSheet,
        Lately,
        MeasuredFilm,
        Outcome,
        PastNegative,
        PastVerdict,
        RulesInForce,
    )
    from gatekeeper.verdict import Decision


class Lookup:
    """The history with the right to look. Its methods raise `HistoryAwayError` and nothing else."""

    def __init__(self, database: Database, room: str = "") -> None:
        self._database = database
        self._room = room

    @property
    def site(self) -> str:
        """The site whose rows are looked at."""
        return self._room or self._database.site

    def of_room(self, room: str) -> Lookup:
        """Return a look at another room in the same database, by the same connection."""
        return Lookup(self._database, room)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database; the next question opens it again."""
        self._database.close()

    def one_look(self) -> AbstractContextManager[None]:
        """Let all that this thread asks in the block see one moment, by one connection."""
        return self._database.one_look()

    def jobs(
        self,
        *,
        state: Decision | None = None,
        since: datetime | None = None,
        workflow: str | None = None,
        customer: str | None = None,
        limit: int | None = 100,
    ) -> tuple[JobLine, ...]:
        """Return the newest verdict of each job, the one filed last first.

        Parameters
        ----------
        since : filed at this moment or later, aware of its time zone
        limit : at most so many; None for all
        """
        wanted = {
            "decision": None if state is None else state.value,
            "customer": customer,
            "workflow": workflow,
        }
        with self._database.reading() as connection:
            return newest_of_jobs(connection, self.site, since=since, wanted=wanted, limit=limit)

    def job(self, name: str) -> tuple[PastVerdict, ...]:
        """Return all verdicts on jobs of this name, in every workflow, the newest first."""
        is_job = and_(verdicts.c.site == self.site, verdicts.c.job_key == job_key(name))
        same_rules = and_(
            rule_sets.c.site == verdicts.c.site,
            rule_sets.c.fingerprint == verdicts.c.rules_fingerprint,
        )
        found = (
            select(verdicts, rule_sets.c.text.label("rules_text"))
            .outerjoin(rule_sets, same_rules)
            .where(is_job)
            .order_by(verdicts.c.ticket.desc())
        )
        answered = (
            select(finding_rows)
            .join(verdicts, verdicts.c.id == finding_rows.c.verdict_id)
            .where(is_job)
            .order_by(finding_rows.c.verdict_id, finding_rows.c.position)
        )
        covered = (
            select(judged.c.verdict_id, judged.c.current, sheets)
            .join(verdicts, verdicts.c.id == judged.c.verdict_id)
            .join(sheets, sheets.c.id == judged.c.sheet_id)
            .where(is_job)
            .order_by(judged.c.verdict_id, judged.c.position)
        )
        with self._database.reading() as connection:
            return answers.past_verdicts(
                connection.execute(found), connection.execute(answered), connection.execute(covered)
            )

    def negatives(self, name: str) -> tuple[PastNegative, ...]:
        """Return every negative measured for jobs of this name, with its readings, oldest first."""
        is_job = and_(sheets.c.site == self.site, sheets.c.job_key == job_key(name))
        films = (
            select(negatives, sheets.c.name.label("sheet"), sheets.c.ticket)
            .join(sheets, sheets.c.id == negatives.c.sheet_id)
            .where(is_job)
        )
        patches = (
            select(readings)
            .join(sheets, sheets.c.id == readings.c.sheet_id)
            .where(is_job)
            .order_by(readings.c.sheet_id, readings.c.negative, readings.c.position)
        )
        with self._database.reading() as connection:
            # Sorted here: asked for this order, SQLite takes all tickets of the site in turn and
            # looks for the job among them.
            found = sorted(connection.execute(films), key=attrgetter("ticket", "sheet", "position"))
            return answers.past_negatives(found, connection.execute(patches))

    def films(
        self,
        *,
        since: datetime,
        workflow: str | None = None,
        printer: str | None = None,
        meter: str | None = None,
        after: int = 0,
    ) -> tuple[MeasuredFilm, ...]:
        """Return the films whose sheets arrived since then, with readings, in order of arrival.

        Parameters
        ----------
        after : number of an event; above 0 only what was recorded behind it
        """
        wanted = {"workflow": workflow, "printer": printer, "meter": meter}
        with self._database.reading() as connection:
            return measured_films(connection, self.site, since, wanted, after)

    def each_film(
        self, *, since: datetime, workflow: str | None = None, printer: str | None = None
    ) -> Iterator[MeasuredFilm]:
        """Yield the films whose sheets arrived since then, in order of arrival, some at a time.

        A window of weeks may hold more films than ought to be in memory at once.
        """
        wanted = {"workflow": workflow, "printer": printer}
        return each_measured_film(self._database.reading, self.site, since, wanted)

    def outcomes(self, *, since: datetime, workflow: str | None = None) -> tuple[Outcome, ...]:
        """Return every verdict filed since then with the rules that held, in order of tickets."""
        with self._database.reading() as connection:
            return outcomes(connection, self.site, since, workflow)

    def lately(self, *, since: datetime) -> Lately:
        """Return the verdicts filed since then, counted."""
        with self._database.reading() as connection:
            return lately(connection, self.site, since)

    def stocks_of_lots(self, *, since: datetime) -> dict[str, str]:
        """Return the film stock of each lot that was judged since then, as a register had it."""
        with self._database.reading() as connection:
            return lot_stocks(connection, self.site, since)

    def known_digest(self, sha256: str, *, other_than_job: str) -> KnownSheet | None:
        """Return where these bytes were used first, None if nowhere or by this same job."""
        with self._database.reading() as connection:
            return owners.of_bytes(connection, self.site, sha256, other_than_job)

    def known_digits(self, digits: str, *, ticket: str, other_than_job: str) -> KnownSheet | None:
        """Return where a film of these digits was used by another job, nearest to this ticket.

        None where it nowhere was, and where this job was the first to use them.
        """
        with self._database.reading() as connection:
            return owners.of_digits(connection, self.site, digits, ticket, other_than_job)

    def has_ticket(self, ticket: str) -> bool:
        """Whether the verdict of this ticket is recorded."""
        query = select(verdicts.c.id).where(
            verdicts.c.site == self.site, verdicts.c.ticket == ticket
        )
        with self._database.reading() as connection:
            return connection.execute(query).first() is not None

    def jobs_with_stem(self, stem: str, *, limit: int = 20) -> tuple[JobLine, ...]:
        """Return the newest verdict of each job with a sheet of exactly this stem, latest first."""
        # A meter may give all its files one name, so only the latest few are looked at.
        recent = (
            select(sheets.c.home)
            .where(sheets.c.site == self.site, sheets.c.stem == stem)
            .order_by(sheets.c.ticket.desc())
            .limit(10 * limit)
        )
        with self._database.reading() as connection:
            homes = list(dict.fromkeys(connection.scalars(recent)))[:limit]
            query = select(verdicts).where(
                verdicts.c.site == self.site, verdicts.c.newest, verdicts.c.home.in_(homes)
            )
            found = {row.home: answers.job_line(row) for row in connection.execute(query)}
        return tuple(found[home] for home in homes if home in found)

    def rooms(self) -> tuple[str, ...]:
        """Return the names of all sites that have a job in this database."""
        query = select(tallies.c.site).distinct().order_by(tallies.c.site)
        with self._database.reading() as connection:
            return tuple(connection.scalars(query))

    def counts(self) -> Counts:
        """Return how many jobs are approved and held, by workflow."""
        query = select(tallies).where(tallies.c.site == self.site).order_by(tallies.c.workflow)
        with self._database.reading() as connection:
            return answers.counts(connection.execute(query))

    def rule_set(self, fingerprint: str) -> RuleSet | None:
        """Return the rules of this fingerprint as they were first in force."""
        query = select(rule_sets).where(
            rule_sets.c.site == self.site, rule_sets.c.fingerprint == fingerprint
        )
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return None if row is None else RuleSet(row.fingerprint, row.text, row.first_seen)

    def rule_sets_beginning(self, start: str) -> tuple[RuleSet, ...]:
        """Return the rules whose fingerprint begins so; two where more than one does."""
        with self._database.reading() as connection:
            return rulings.beginning_with(connection, self.site, start)

    def rules_at(self, workflow: str, customer: str, moment: datetime) -> RulesInForce | None:
        """Return the rules in force at a moment: those taken up last, or shown by a later verdict.

        Parameters
        ----------
        customer : as verdicts name it; empty for jobs that name none
        moment : aware of its time zone
        """
        with self._database.reading() as connection:
            return rulings.in_force(connection, self.site, (workflow, customer), moment)

    @contextmanager
    def replay(self, whose: Whose) -> Iterator[Replay]:
        """Open one look at the last verdicts of these jobs, to judge them anew."""
        with self._database.reading() as connection:
            yield Replay(connection, self.site, whose)

    def events(self, *, after: int = 0, limit: int = 100) -> tuple[Event, ...]:
        """Return the events of the audit chain behind this sequence number, in order."""
        query = (
            select(events)
            .where(events.c.site == self.site, events.c.sequence > after)
            .order_by(events.c.sequence)
            .limit(limit)
        )
        with self._database.reading() as connection:
            return tuple(answers.event(row) for row in connection.execute(query))

    def head(self) -> Event | None:
        """Return the newest event: reports and log carry its hash, so that a cut end is seen."""
        return self._database.asked_once(
            ("head", self.site), lambda connection: audit.head(connection, self.site)
        )

    def carry_out(self, folder: Path, form: Form, told: Told = tell_nobody) -> dict[str, int]:
        """Write everything of this site into an empty folder; return the rows of each table."""
        with self._database.reading() as connection:
            return carry_out(connection, self.site, folder, form, told)

    def verify(self, *, seen_sha256: str = "") -> ChainReport:
        """Walk the audit chain, compare every verdict with its event; name the first that is wrong.

        Parameters
        ----------
        seen_sha256 : a hash from a report or the log, which the chain must still have
        """
        with self._database.reading() as connection:
            return audit.verify(connection, self.site, seen_sha256=seen_sha256)
