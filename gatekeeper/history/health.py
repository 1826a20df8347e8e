"""Whether a history is sound, for whoever looks and changes nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.history import chain, sqlite
from gatekeeper.history.database import Database
from gatekeeper.history.interface import Wait
from gatekeeper.history.query import Lookup
from gatekeeper.history.stores import store_for

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.clock import Clock
    from gatekeeper.history.past import Counts, Event


@dataclass(frozen=True, slots=True)
class Health:
    """What was found."""

    counts: Counts
    damage: str  # of the file, as the database says; empty for none
    newest: Event | None
    flaw: str  # in the audit chain; empty for none found


def look_over(
    url: str,
    *,
    base: Path,
    site: str,
    clock: Clock,
    is_deep: bool,
    password_file: str | None = None,
) -> Health:
    """Return the health of a history. Parameters are those of `read_history`.

    Parameters
    ----------
    is_deep : read the whole chain and every verdict, not only the end of the chain

    Raises
    ------
    HistoryAwayError : it cannot be looked into; `NoHistoryYetError` where none was begun
    """
    wait = Wait(lock_s=2.0)
    store = store_for(url, base=base, wait=wait, writable=False, password_file=password_file)
    database = Database(store, site=site, clock=clock, program="", wait=wait)
    with Lookup(database) as history:
        damage, flaw = _at_a_glance(database)
        if is_deep and not flaw:
            broken = history.verify().broken
            flaw = f"event {broken.sequence}: {broken.says}" if broken else ""
        return Health(history.counts(), damage, history.head(), flaw)


def _at_a_glance(database: Database) -> tuple[str, str]:
    with database.reading() as connection:
        is_file = connection.dialect.name == "sqlite"
        damage = sqlite.quick_check(connection) if is_file else ""
        is_sound = chain.end_is_sound(connection, database.site)
    return damage, "" if is_sound else "its last two events do not hold together"
