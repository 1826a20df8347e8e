"""Which film stock a lot is, as the checks of films have found it in the room's register."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sqlalchemy import and_, select

from gatekeeper.history.measured_films import first_ticket
from gatekeeper.history.schema import findings, judged, negatives, verdicts

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy import Connection

RULE: Final = "film.stocks"
"""The rule whose answer names the stock."""


def lot_stocks(connection: Connection, site: str, since: datetime) -> dict[str, str]:
    """Return the stock of each lot that was judged since then, as it was found last."""
    of_film = and_(
        negatives.c.sheet_id == judged.c.sheet_id, negatives.c.separation == findings.c.separation
    )
    query = (
        select(negatives.c.film_lot, findings.c.measured_words)
        .select_from(verdicts)
        .join(findings, findings.c.verdict_id == verdicts.c.id)
        .join(judged, and_(judged.c.verdict_id == verdicts.c.id, judged.c.current))
        .join(negatives, of_film)
        .where(
            verdicts.c.site == site,
            verdicts.c.ticket >= first_ticket(since),
            findings.c.rule == RULE,
            findings.c.measured_words.is_not(None),
        )
        .order_by(verdicts.c.ticket)
    )
    return {lot: stock for lot, stock in connection.execute(query) if lot}
