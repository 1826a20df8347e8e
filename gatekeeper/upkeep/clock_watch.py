"""Whether the clock on the wall was set: found by one that never steps, and said.

A clock that jumped by much is not believed at once: what is done by the day waits, for the archive
and the old copies of the history would be gone by the time that somebody sets it right. One that
stays as it is was meant so. Jobs go on: what is asked of a sheet's dates holds whatever is odd.
"""

from __future__ import annotations

import logging
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final

import gatekeeper

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

NOTED_S: Final = 60.0
"""Steps below this are a time server's work (s)."""

DOUBTED_S: Final = 600.0
"""A step from which on dates are no longer what they were: a sheet's may be so far ahead (s)."""

BELIEVED_S: Final = 3_600.0
"""A clock that has stood by its new time for so long is right (s)."""

SET_IT: Final = "set the clock, and let a time server keep it: timedatectl set-ntp true"

log = logging.getLogger(__name__)


def installed_at() -> datetime:
    """Return the moment at which this program was installed.

    Raises
    ------
    OSError : its files cannot be looked at, such as amid an upgrade
    """
    return datetime.fromtimestamp(Path(gatekeeper.__file__).stat().st_mtime, UTC)


def is_before_program(now: datetime, installed: datetime) -> bool:
    """Whether a moment lies before the day on which this program was installed."""
    return now < installed - timedelta(days=1)


class ClockWatch:
    """Follows the clock.

    Parameters
    ----------
    now : what the clock on the wall says
    steady : seconds that never jump and go on while the machine sleeps
    note : told of a step back, for the audit trail
    """

    def __init__(
        self,
        now: Callable[[], datetime],
        steady: Callable[[], float],
        note: Callable[[Mapping[str, object]], None],
    ) -> None:
        self._now = now
        self._steady = steady
        self._note = note
        self._installed = installed_at()  # once: an upgrade takes the files away for a moment
        self._ahead_s = self._believed_s = now().timestamp() - steady()  # of the steady one
        self._since_s = float("-inf")  # of the last step, by the steady one

    @property
    def is_doubtful(self) -> bool:
        """Whether the clock stands elsewhere than it did, and has not stood there for long."""
        return abs(self._ahead_s - self._believed_s) >= DOUBTED_S

    def look(self) -> tuple[str, ...]:
        """Look at the clock, and return what is wrong with it."""
        now, steady_s = self._now(), self._steady()
        ahead_s = now.timestamp() - steady_s
        self._step(now, ahead_s - self._ahead_s, steady_s)
        self._ahead_s = ahead_s
        if not self.is_doubtful or steady_s - self._since_s >= BELIEVED_S:
            self._believed_s = ahead_s
        return tuple(self._wrong(now))

    def _step(self, now: datetime, step_s: float, steady_s: float) -> None:
        if abs(step_s) < NOTED_S:
            return
        self._since_s = steady_s
        before = now - timedelta(seconds=step_s)
        log.warning("the clock was set %s, from %s", _far(step_s), f"{before:%Y-%m-%d %H:%M} UTC")
        if step_s < 0:
            self._note({"from": _text(before), "to": _text(now)})

    def _wrong(self, now: datetime) -> list[str]:
        wrong = []
        if self.is_doubtful:
            far = _far(self._ahead_s - self._believed_s)
            wrong.append(
                f"the clock was set {far}: daily work waits for an hour to see if that was meant;"
                " ages of film and meters are judged by the clock: set it right if it is wrong"
            )
        if is_before_program(now, self._installed):
            wrong.append(f"the clock stands before this program was installed; {SET_IT}")
        return wrong


def _far(step_s: float) -> str:
    way = "forward" if step_s > 0 else "back"
    minutes = round(abs(step_s) / 60)
    days, hours = divmod(minutes // 60, 24)
    if days:
        return f"{way} by {days} d {hours} h"
    return f"{way} by {hours} h {minutes % 60} min" if hours else f"{way} by {minutes} min"


def _text(moment: datetime) -> str:
    return moment.isoformat(timespec="seconds")
