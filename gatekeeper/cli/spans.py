"""`--since`: a date, a moment or a span back from now, as a person types it."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from gatekeeper.errors import UsageError

if TYPE_CHECKING:
    from gatekeeper.site import Site


def since_moment(text: str, site: Site, now: datetime) -> datetime:
    """Return the moment that the text means; a date without a zone is meant in the site's.

    Raises
    ------
    UsageError : it is neither a date nor a span
    """
    span = re.fullmatch(r"([0-9]{1,5})([dh])", text)
    if span:
        return now - timedelta(**{"days" if span[2] == "d" else "hours": int(span[1])})
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise UsageError(
            f"--since {text!r} is neither a date nor a span", do="write 2026-11-20, 7d or 12h"
        ) from error
    return moment if moment.tzinfo else moment.replace(tzinfo=site.time_zone)
