"""What the room owns, as rows; what runs out, and in how many days; how much film is left."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import TYPE_CHECKING

from gatekeeper.clock import SystemClock
from gatekeeper.history import HistoryAwayError
from gatekeeper.register.models import LotEntry
from gatekeeper.register.rows import DueRow, Row
from gatekeeper.room import read_book
from gatekeeper.screens.dues import expiries
from gatekeeper.workshop import lookup_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.care.registers import Kind
    from gatekeeper.clock import Clock
    from gatekeeper.room import Book
    from gatekeeper.site import Site
    from gatekeeper.yamlfiles.fields import Block

_LONG_AGO = date(2000, 1, 1)


def inventory(site: Site, kind: Kind, clock: Clock | None = None) -> list[Row]:
    """Return every entry of a kind, in the order of the files."""
    book = read_book(site)
    entries: dict[str, Block] = getattr(book.register, kind.block)
    counted = _films(site, book, clock or SystemClock()) if kind.model is LotEntry else {}
    return [_row(name, entry, counted.get(name)) for name, entry in entries.items()]


def dues(site: Site, subject: str, clock: Clock | None = None) -> list[DueRow]:
    """Return what runs out of a kind, the earliest first.

    Parameters
    ----------
    subject : what the subjects begin with, such as `meter `
    """
    book = read_book(site)
    today = (clock or SystemClock()).now().astimezone(site.time_zone).date()
    return [
        DueRow(
            subject=entry.subject,
            last_day=entry.last_day,
            days_left=(entry.last_day - today).days,
            says=entry.says,
            do=entry.do,
            workflows=entry.workflows,
        )
        for entry in expiries(book.register, book.library)
        if entry.subject.startswith(subject)
    ]


def _row(name: str, entry: Block, films: int | None) -> Row:
    fields = dict(_stated(entry))
    if not isinstance(entry, LotEntry) or entry.length_m is None:
        return Row(name, fields)
    if entry.length_per_film_m is None or films is None:
        return Row(name, fields)
    return Row(name, fields, max(0.0, entry.length_m - films * entry.length_per_film_m), films)


def _stated(entry: Block) -> Iterator[tuple[str, object]]:
    for name in type(entry).model_fields:
        value = getattr(entry, name)
        if name in entry.model_fields_set:
            yield name, _plain(value)


def _plain(value: object) -> object:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value


def _films(site: Site, book: Book, clock: Clock) -> dict[str, int]:
    """Count the films measured on each lot whose length is known: a remeasured one once."""
    lots = {name: lot for name, lot in book.register.lots.items() if lot.length_m}
    if not lots:
        return {}
    begun = min(lot.opened or lot.received or lot.made or _LONG_AGO for lot in lots.values())
    since = datetime.combine(begun, time(), site.time_zone)
    try:
        with lookup_of(site, clock) as history:
            films = history.films(since=since)
    except HistoryAwayError:
        return {}
    seen = {
        (
            film.workflow,
            film.job,
            film.negative.separation,
            str(film.negative.particulars.get("printed")),
        ): film.negative.film_lot
        for film in films
    }
    counts = dict.fromkeys(lots, 0)
    for named in seen.values():
        key = next((name for name in lots if name.casefold() == named.casefold()), None)
        if key is not None:
            counts[key] += 1
    return counts
