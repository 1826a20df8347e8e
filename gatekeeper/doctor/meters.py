"""Whether a meter failed its check, so that jobs that it measured are in doubt."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.care.meter_watch import standing_doubts
from gatekeeper.doctor.interface import Answer, look
from gatekeeper.history import HistoryAwayError
from gatekeeper.screens.present import read_present
from gatekeeper.show.meters import doubt_says
from gatekeeper.single import is_at_work
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.doctor.interface import Ward


def checked(ward: Ward) -> Iterator[Answer]:
    """Look at the newest check of each meter; what the daemon says itself is not said twice."""
    site = ward.site
    present = read_present(site.state) if is_at_work(site.state, site.gate) else None
    try:
        doubts = standing_doubts(site, ward.book.register, ward.around.clock)
    except HistoryAwayError:
        return  # is told of as the history's own trouble
    for doubt in doubts:
        says = doubt_says(doubt, site.time_zone)
        if present is None or says not in present.alarms:
            do = f"gatekeeper meters doubt {plain(doubt.meter)} lists its jobs and takes them back"
            yield look("meter", says, do)
