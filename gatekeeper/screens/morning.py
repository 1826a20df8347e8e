"""The digest of a site: the facts gathered from history, register, rules, curves and daemon."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from gatekeeper.care.curve_desk import CANDIDATE, CurveDesk
from gatekeeper.care.meter_watch import standing_doubts
from gatekeeper.control.digest import Digest, DoubtLine, DueLine, HeldLine, RoomLine
from gatekeeper.control.review import Review, Wanted, empty_review, jobs_of, review
from gatekeeper.control.yields import yield_of
from gatekeeper.history import HistoryAwayError, NoHistoryYetError
from gatekeeper.screens.all_rooms import rooms_to_show
from gatekeeper.screens.dues import expiries, worth_saying
from gatekeeper.screens.lookback import surroundings_of
from gatekeeper.screens.present import read_present
from gatekeeper.show.meters import doubt_says
from gatekeeper.verdict import Decision
from gatekeeper.wording import plain
from gatekeeper.workshop import lookup_of
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from gatekeeper.clock import Clock
    from gatekeeper.history.past import JobLine, Outcome
    from gatekeeper.history.query import Lookup
    from gatekeeper.room import Book
    from gatekeeper.site import Site

MOST_HELD = 20
"""Held jobs that are listed; who holds more than that has another problem."""

MOST_ROOMS = 25
"""Rooms of a shared history that a digest looks at; `trend --all-rooms` asks all."""

TREND_SPAN = timedelta(days=60)
_LONGEST = 300


def digest_of(site: Site, book: Book, since: datetime, clock: Clock) -> Digest:
    """Gather the digest.

    Parameters
    ----------
    since : from when jobs are counted

    Raises
    ------
    HistoryAwayError : the history cannot be asked
    """
    now = clock.now()
    held: tuple[JobLine, ...] = ()
    outcomes: list[Outcome] = []
    others: tuple[RoomLine, ...] = ()
    seen: Review = empty_review(Wanted(since), now)
    held_in_all = 0
    try:
        with lookup_of(site, clock) as history:
            held, held_in_all = _held(history), history.counts().held
            outcomes = jobs_of(history, Wanted(since))
            elsewhere = [
                history.of_room(room)
                for room in rooms_to_show(site, history.rooms())[:MOST_ROOMS]
                if room != site.mark
            ]
            seen = review(
                [(history, surroundings_of(site, book))],
                Wanted(now - TREND_SPAN),
                now=now,
                zone=site.time_zone,
                compared=elsewhere,
            )
            others = tuple(_room_line(room, since) for room in elsewhere)
    except NoHistoryYetError:
        pass
    came_through = yield_of(outcomes)
    doubts = tuple(_doubts(site, book, clock))
    told = {doubt.says for doubt in doubts}  # an alarm on the screens, a part of its own here
    return Digest(
        room=plain(site.name),
        day=now.astimezone(site.time_zone).date(),
        since=since,
        approved=_approved(outcomes),
        first_pass=came_through.first_pass,
        reasons=came_through.reasons,
        held=tuple(map(_held_line, held)),
        held_in_all=held_in_all,
        news=seen.news,
        watched=tuple(_watched(seen)),
        dues=tuple(_dues(site, book, now)),
        doubts=doubts,
        candidates=tuple(_candidates(site, clock)),
        alarms=tuple(alarm for alarm in _alarms(site) if alarm not in told),
        others=others,
        concessions=came_through.concessions,
    )


def _room_line(history: Lookup, since: datetime) -> RoomLine:
    outcomes = jobs_of(history, Wanted(since))
    return RoomLine(
        room=plain(history.site),
        held=history.counts().held,
        approved=_approved(outcomes),
        first_pass=yield_of(outcomes).first_pass,
    )


def _held(history: Lookup) -> tuple[JobLine, ...]:
    return history.jobs(state=Decision.HELD, limit=MOST_HELD)


def _held_line(line: JobLine) -> HeldLine:
    return HeldLine(
        job=plain(line.job),
        workflow=plain(line.workflow),
        customer=plain(line.customer),
        reason=plain(line.reason, _LONGEST),
        since=line.filed_at,
    )


def _approved(outcomes: Iterable[Outcome]) -> int:
    """Count the jobs whose last word is approved."""
    return sum(one.is_newest and one.decision is Decision.APPROVED for one in outcomes)


def _watched(seen: Review) -> Iterator[str]:
    for trend in seen.trends:
        yield from trend.says[1 if trend.is_news else 0 :]


def _dues(site: Site, book: Book, now: datetime) -> Iterator[DueLine]:
    today = now.astimezone(site.time_zone).date()
    for expiry in worth_saying(expiries(book.register, book.library), today):
        yield DueLine(
            subject=plain(expiry.subject, _LONGEST),
            last_day=expiry.last_day,
            days_left=(expiry.last_day - today).days,
            says=expiry.says,
            do=expiry.do,
        )


def _doubts(site: Site, book: Book, clock: Clock) -> Iterator[DoubtLine]:
    try:
        found = standing_doubts(site, book.register, clock)
    except HistoryAwayError:
        return  # the daemon tells of it among its alarms
    for doubt in found:
        jobs = [plain(f"{job.job} ({job.workflow})", 120) for job in doubt.jobs if job.approved]
        yield DoubtLine(doubt_says(doubt, site.time_zone), tuple(jobs))


def _candidates(site: Site, clock: Clock) -> Iterator[str]:
    try:
        known = CurveDesk(site, clock).known()
    except (BrokenFilesError, OSError):
        return
    for entry in known:
        if entry.state == CANDIDATE:
            curve = entry.curve
            yield plain(
                f"{curve.name}: mid-tone {curve.mid_tone:.1f} % {curve.read_how}, "
                f"{curve.predicted_mid_tone:.1f} ± {curve.error:.1f} % through it "
                f"(gatekeeper curve accept)",
                _LONGEST,
            )


def _alarms(site: Site) -> Iterator[str]:
    present = read_present(site.state)
    if present:
        yield from (plain(alarm, _LONGEST) for alarm in present.alarms)
        yield from (plain(f"rules broken: {says}", _LONGEST) for says in present.broken_rules)
        for says in present.coming_rules:
            yield plain(f"rules to mend in time: {says}", _LONGEST)
