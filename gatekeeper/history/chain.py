"""The audit chain: each event seals the one before, so that no past line can be changed unseen.

A chain does not show that its end was cut off, nor that all of it was made anew. That is what the
newest hash in reports and log is for: `walk` is told one and says whether the chain still has it.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sqlalchemy import Row, bindparam, select

from gatekeeper.history.bulk import insert_many
from gatekeeper.history.canonical import canonical, storable, utc_text
from gatekeeper.history.past import Break, ChainReport, Event
from gatekeeper.history.schema import events

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import datetime

    from sqlalchemy import Connection

START = "0" * 64
"""Stands where the first event has nothing before it."""

_FIELDS = tuple(column for column in events.columns if column.name != "site")
_BACKWARDS = (
    select(*_FIELDS).where(events.c.site == bindparam("site")).order_by(events.c.sequence.desc())
)
_LAST = _BACKWARDS.limit(1)
_FEW_HUNDRED = 500


@dataclass(frozen=True, slots=True)
class Happening:
    """What an event tells, before it has its place in the chain."""

    at: datetime
    kind: str
    subject: str
    document: Mapping[str, object]


def seal(site: str, event: Event) -> str:
    """Return the SHA-256 over everything the event says and the hash of the one before."""
    facts = [
        site, event.sequence, event.at, event.kind, event.subject, event.document,
        event.previous_sha256,
    ]  # fmt: skip
    # A forged row may hold bytes where text belongs; it shall be found, not stop the search.
    plain = [fact if isinstance(fact, str | int) else repr(fact) for fact in facts]
    return hashlib.sha256(canonical(plain).encode()).hexdigest()


def last(connection: Connection, site: str) -> Event | None:
    """Return the newest event of a site."""
    row = connection.execute(_LAST, {"site": site}).first()
    return None if row is None else _event(row)


def recent_with(connection: Connection, site: str, words: str) -> Event | None:
    """Return the newest event whose document has these words, of the last few hundred.

    What is told late is told in order, so an event that a kill leaves told but not crossed off is
    among the last.
    """
    quoted = canonical(words)
    for row in connection.execute(_BACKWARDS.limit(_FEW_HUNDRED), {"site": site}).all():
        if quoted in str(row.document):
            return _event(row)
    return None


def append(connection: Connection, site: str, happening: Happening) -> Event:
    """Add an event behind the newest one, within the caller's transaction."""
    return append_all(connection, site, [happening])[0]


def append_all(connection: Connection, site: str, happenings: Iterable[Happening]) -> list[Event]:
    """Add events behind the newest one, in the order given, within the caller's transaction."""
    newest = last(connection, site)
    added: list[Event] = []
    for happening in happenings:
        newest = _behind(newest, site, happening)
        added.append(newest)
    insert_many(connection, events, [_row(site, event) for event in added])
    return added


def _row(site: str, event: Event) -> dict[str, object]:
    return {"site": site} | {name: getattr(event, name) for name in Event.__slots__}


def _behind(before: Event | None, site: str, happening: Happening) -> Event:
    unsealed = Event(
        sequence=before.sequence + 1 if before else 1,
        at=utc_text(happening.at),
        kind=storable(happening.kind),
        subject=storable(happening.subject),
        document=canonical(happening.document),
        previous_sha256=before.sha256 if before else START,
        sha256="",
    )
    return replace(unsealed, sha256=seal(site, unsealed))


def end_is_sound(connection: Connection, site: str) -> bool:
    """Whether the last two events hold together: quick enough for every start."""
    rows = connection.execute(_BACKWARDS.limit(2), {"site": site}).all()
    if not rows:
        return True
    tail = [_event(row) for row in reversed(rows)]
    if not all(isinstance(event.sequence, int) for event in tail):
        return False
    number, previous = tail[0].sequence - 1, tail[0].previous_sha256
    for event in tail:
        if _flaw(site, event, number + 1, previous) is not None:
            return False
        number, previous = event.sequence, event.sha256
    return True


def walk(connection: Connection, site: str, *, seen_sha256: str = "") -> ChainReport:
    """Follow the chain from its start and stop at the first place where it does not hold.

    Parameters
    ----------
    seen_sha256 : a hash that a report or the log carries; the chain must still have it
    """
    query = select(*_FIELDS).where(events.c.site == site).order_by(events.c.sequence)
    number, head, is_seen = 0, START, not seen_sha256
    with connection.execute(query, execution_options={"yield_per": 1000}) as rows:
        for row in rows:
            event = _event(row)
            flaw = _flaw(site, event, number + 1, head)
            if flaw is not None:
                return ChainReport(number, head, Break(number + 1, flaw))
            number, head = event.sequence, event.sha256
            is_seen = is_seen or head == seen_sha256
    if not is_seen:
        says = f"no event has the hash {seen_sha256}: the end was cut off, or the chain made anew"
        return ChainReport(number, head, Break(number + 1, says))
    return ChainReport(number, head)


def _flaw(site: str, event: Event, expected: int, previous_sha256: str) -> str | None:
    if event.sequence != expected:
        return f"event {expected} is missing"
    if event.sha256 != seal(site, event):
        return f"event {expected} was altered or moved"
    if event.previous_sha256 != previous_sha256:
        return f"event {expected} does not follow the one before: one of them was replaced or moved"
    return None


def _event(row: Row[tuple[object, ...]]) -> Event:
    return Event(**row._mapping)  # noqa: SLF001 -- public in spite of its name
