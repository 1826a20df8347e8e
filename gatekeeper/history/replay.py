"""What is needed to judge the past anew: every job's last verdict, its answers and its readings.

Made for a hundred thousand jobs: rows come as plain tuples, and only those that are asked for.
"""

from __future__ import annotations

import json
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from sqlalchemy import ColumnElement, func, or_, select

from gatekeeper.history.reread import PATCH, PastFilm, one_of
from gatekeeper.history.schema import findings, judged, negatives, readings, sheets, verdicts
from gatekeeper.shelf_names import RESERVED
from gatekeeper.verdict import Decision, Outcome

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from datetime import datetime

    from sqlalchemy import Column, Connection, Select

    from gatekeeper.history.reread import Cells

Row = TypeVar("Row")

CHUNK = 4_000
"""Verdicts whose readings are fetched at a time; databases take some 30,000 values a statement."""

SAME_READINGS = "plausibility.same_readings_days"
"""The rule whose answer rests on other jobs, which a job judged again by itself cannot know."""

CONTROL = "control"
"""The check whose answers rest on the control charts of that moment."""

_READ = json.JSONDecoder().raw_decode
"""Of what the program itself has written, so that no blank stands around it."""

_HOLDING = (Outcome.HOLD.value, Outcome.NOT_JUDGED.value)


class PastJob(NamedTuple):
    """The last verdict on a job."""

    id: int
    ticket: str
    job: str
    workflow: str
    customer: str
    decision: str
    concession: str | None
    fingerprint: str


class PastAnswer(NamedTuple):
    """One finding, as far as a number can tell it."""

    verdict: int
    rule: str
    outcome: str
    measured: float | None
    limit: float | None


class PastSheet(NamedTuple):
    """A sheet of a job; without a film where it could not be read."""

    name: str
    sha256: str
    ticket: str
    films: tuple[PastFilm, ...]
    counts: bool  # else it was replaced, and is one measurement more of its negatives


class PastSignal(NamedTuple):
    """What a finding recorded of the control charts."""

    separation: str
    words: str
    says: str


class LikeFilm(NamedTuple):
    """A film of a job that read as another job's did, so many days apart."""

    separation: str
    days: float


@dataclass(frozen=True, slots=True)
class Whose:
    """Which jobs are meant; what is empty narrows nothing."""

    since: datetime | None = None
    workflow: str = ""
    customer: str = ""


class Replay:
    """The last verdicts on the jobs of a site, within one look at the database."""

    def __init__(self, connection: Connection, site: str, whose: Whose) -> None:
        self._connection = connection
        self._site = site
        self._whose = whose

    def jobs(self) -> list[PastJob]:
        """Return the last verdict on every job, in the order in which they were filed."""
        columns = (
            *(verdicts.c[name] for name in PastJob._fields[:-1]),
            verdicts.c.rules_fingerprint,
        )
        query = self._narrowed(select(*columns)).order_by(verdicts.c.filed_at, verdicts.c.ticket)
        return [PastJob(*row) for row in self._connection.execute(query)]

    def answers(self, rules: Iterable[str]) -> Iterator[PastAnswer]:
        """Yield what was answered to these rules, job by job."""
        columns = (findings.c.verdict_id, *(findings.c[name] for name in PastAnswer._fields[1:]))
        query = self._narrowed(
            select(*columns)
            .join(verdicts, verdicts.c.id == findings.c.verdict_id)
            .where(findings.c.rule.in_(sorted(rules)))
        )
        for row in self._connection.execute(query):
            yield PastAnswer(*row)

    def holding(self) -> dict[int, set[str]]:
        """Return by verdict the rules that held the job or could not be judged."""
        query = self._narrowed(
            select(findings.c.verdict_id, findings.c.rule)
            .join(verdicts, verdicts.c.id == findings.c.verdict_id)
            .where(
                findings.c.outcome.in_(_HOLDING),
                or_(verdicts.c.decision == Decision.HELD.value, verdicts.c.concession.is_not(None)),
            )
        )
        found: defaultdict[int, set[str]] = defaultdict(set)
        for verdict, rule in self._connection.execute(query):
            found[verdict].add(rule)
        return dict(found)

    def arrivals(self, ids: Sequence[int]) -> dict[int, datetime]:
        """Return by verdict the moment at which its sheet arrived."""
        query = select(verdicts.c.id, verdicts.c.arrived_at).where(verdicts.c.id.in_(ids))
        return {row.id: row.arrived_at for row in self._connection.execute(query)}

    def signals(self, ids: Sequence[int]) -> dict[int, list[PastSignal]]:
        """Return by verdict what was recorded of the control charts then."""
        told = (findings.c.measured_words, findings.c.says)
        return self._found(ids, findings.c.check == CONTROL, told, PastSignal)

    def like_films(self, ids: Sequence[int]) -> dict[int, list[LikeFilm]]:
        """Return by verdict the films that read alike in every digit as another job's."""
        return self._found(ids, findings.c.rule == SAME_READINGS, (findings.c.measured,), LikeFilm)

    def _found(
        self,
        ids: Sequence[int],
        which: ColumnElement[bool],
        told: tuple[Column[Any], ...],
        make: Callable[..., Row],
    ) -> dict[int, list[Row]]:
        """Return by verdict what findings tell, each with its separation; the first is given."""
        query = (
            select(findings.c.verdict_id, findings.c.separation, *told)
            .where(findings.c.verdict_id.in_(ids), which, told[0].is_not(None))
            .order_by(findings.c.verdict_id, findings.c.position)
        )
        found: defaultdict[int, list[Row]] = defaultdict(list)
        for verdict, *cells in self._connection.execute(query):
            found[verdict].append(make(*cells))
        return dict(found)

    def sheets(
        self, ids: Sequence[int], *, with_patches: bool, with_replaced: bool
    ) -> dict[int, list[PastSheet]]:
        """Return by verdict the sheets of its job, oldest first.

        Parameters
        ----------
        with_patches : whether each film has its readings, or its head alone
        with_replaced : whether sheets are among them that count no more
        """
        told = (sheets.c.id, sheets.c.name, sheets.c.sha256, sheets.c.ticket, judged.c.current)
        query = (
            select(judged.c.verdict_id, *told)
            .join(sheets, sheets.c.id == judged.c.sheet_id)
            .where(judged.c.verdict_id.in_(ids))
            .order_by(judged.c.verdict_id, judged.c.position)
        )
        query = query if with_replaced else query.where(judged.c.current)
        rows = self._connection.execute(query).all()
        films = self._films({row.id for row in rows}, with_patches=with_patches)
        found: defaultdict[int, list[PastSheet]] = defaultdict(list)
        for verdict, sheet, name, sha256, ticket, counts in rows:
            read = tuple(films.get(sheet, ()))
            found[verdict].append(PastSheet(name, sha256, ticket, read, counts))
        return dict(found)

    def _films(self, ids: set[int], *, with_patches: bool) -> dict[int, list[PastFilm]]:
        patches = self._patches(ids) if with_patches else {}
        films: defaultdict[int, list[PastFilm]] = defaultdict(list)
        heads = (
            select(negatives.c.sheet_id, negatives.c.position, negatives.c.particulars)
            .where(negatives.c.sheet_id.in_(ids))
            .order_by(negatives.c.sheet_id, negatives.c.position)
        )
        for sheet, position, particulars in self._as_stored(heads):
            head, _ = _READ(particulars)
            films[sheet].append(PastFilm(head, tuple(patches.get((sheet, position), ()))))
        return dict(films)

    def _patches(self, ids: set[int]) -> dict[tuple[int, int], list[Cells]]:
        found: defaultdict[tuple[int, int], list[Cells]] = defaultdict(list)
        query = (
            select(readings.c.sheet_id, readings.c.negative, *(readings.c[name] for name in PATCH))
            .where(readings.c.sheet_id.in_(ids))
            .order_by(readings.c.sheet_id, readings.c.negative, readings.c.position)
        )
        for row in self._as_stored(query):
            found[row[:2]].append(one_of(row[2:]))
        return found

    def _as_stored(self, query: Select[Any]) -> Iterable[tuple[Any, ...]]:
        """Return rows as the driver has them, of text and numbers alone; a third of the time."""
        with self._connection.execute(query) as result:
            found: Iterable[tuple[Any, ...]] = result.cursor.fetchall()
            return found

    def _narrowed(self, query: Select[Any]) -> Select[Any]:
        conditions: list[ColumnElement[bool]] = [
            verdicts.c.site == self._site,
            verdicts.c.newest,
            verdicts.c.workflow.not_in(RESERVED),  # of the room itself: no rules judge them
        ]
        if self._whose.since is not None:
            conditions.append(verdicts.c.filed_at >= self._whose.since)
        if self._whose.workflow:
            conditions.append(verdicts.c.workflow == self._whose.workflow)
        if self._whose.customer:
            # The same answer, without tempting the database to walk this column's index.
            conditions.append(func.coalesce(verdicts.c.customer, "") == self._whose.customer)
        return query.where(*conditions)
