"""Whether the newest copy of the history could be restored: it is, in a folder of its own.

Nothing of the site is touched. The copy is opened as the daemon would open it, read from end to
end, and its newest event is looked for in the history of today: a history whose past is another one
than that of last night was begun anew, or made anew by somebody.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from gatekeeper.doctor.interface import Answer, broken, look, ok
from gatekeeper.filing.disk import Disk
from gatekeeper.history import HistoryAwayError, OlderHistoryError, read_history
from gatekeeper.history_settings import is_on_server
from gatekeeper.upkeep.copies import BACKUPS, copy_name, day_of
from gatekeeper.wording import counted, plain
from gatekeeper.workshop import USUAL_HISTORY, history_url

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.doctor.interface import Ward
    from gatekeeper.history.health import Health
    from gatekeeper.history.past import Event

WALKED_AT_ONCE = 50_000_000
"""Of a larger copy only the end of the chain is looked at, unless everything is asked for (B)."""

_ANOTHER = "make one now that can: gatekeeper history backup FILE; keep the old one"
_TONIGHT = "the next nightly copy is of the history as it is now"
_WHO = "keep both files as they are, and compare with the newest hash in reports and log: verify"


def restored(ward: Ward) -> Iterator[Answer]:
    """Restore the newest copy into a scratch folder, and prove it."""
    if is_on_server(ward.site.settings.history):
        return  # a database server has backups of its own
    folder = ward.site.state / BACKUPS
    newest = max(filter(None, map(day_of, Disk().names(folder))), default=None)
    if newest is None:
        return
    copy = folder / copy_name(newest)
    subject = f"the copy of {newest}"
    size = copy.stat().st_size
    with tempfile.TemporaryDirectory(prefix="gatekeeper-") as scratch:
        if shutil.disk_usage(scratch).free < 2 * size + ward.around.full_bytes:
            says = f"{subject} was not restored: {plain(scratch, 200)} has no room for it"
            yield look("restore", says, "make room there, or name another folder with TMPDIR")
            return
        shutil.copyfile(copy, Path(scratch, USUAL_HISTORY))
        yield _proven(ward, subject, Path(scratch), is_deep=size <= WALKED_AT_ONCE)


def _proven(ward: Ward, subject: str, scratch: Path, *, is_deep: bool) -> Answer:
    try:
        health = _health(ward, scratch, is_deep=is_deep or ward.around.is_deep)
    except OlderHistoryError as error:
        return look("restore", f"{subject} was not proven: {error.what}", _TONIGHT)
    except HistoryAwayError as error:
        return broken("restore", f"{subject} cannot be restored: {error.what}", _ANOTHER)
    if health.damage:
        return broken("restore", f"{subject} is damaged: {plain(health.damage, 200)}", _ANOTHER)
    if health.flaw:
        return broken("restore", f"{subject} does not hold: {health.flaw}", _WHO)
    if health.newest is None:
        return broken("restore", f"{subject} tells of nothing", _ANOTHER)
    held = counted(health.counts.approved + health.counts.held, "job")
    says = f"{subject} was restored: {held}, {counted(health.newest.sequence, 'event')}"
    return _beside_today(ward, health.newest, says, subject)


def _health(ward: Ward, scratch: Path, *, is_deep: bool) -> Health:
    from gatekeeper.history.health import look_over  # noqa: PLC0415 -- loads the database library

    return look_over(
        f"sqlite:///{scratch / USUAL_HISTORY}",
        base=scratch,
        site=ward.site.mark,
        clock=ward.around.clock,
        is_deep=is_deep,
    )


def _beside_today(ward: Ward, newest: Event, says: str, subject: str) -> Answer:
    site = ward.site
    try:
        with read_history(
            history_url(site), base=site.root, site=site.mark, clock=ward.around.clock
        ) as history:
            same = history.events(after=newest.sequence - 1, limit=1)
            first = history.events(limit=1)
            head = history.head()
    except HistoryAwayError:
        return ok("restore", f"{says}; the history itself is away and was not compared")
    if same and same[0].sha256 == newest.sha256:
        since = (head.sequence if head else newest.sequence) - newest.sequence
        return ok("restore", f"{says}, and the history goes on from it by {since}")
    if first and first[0].at > newest.at:
        begun = f"the history was begun anew on {first[0].at}, after {subject}"
        return look("restore", f"{says}; {begun}", _TONIGHT)
    return broken("restore", f"the history of today is not the one of {subject}", _WHO)
