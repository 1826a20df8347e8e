"""Faults that stand: said when they begin, at growing intervals while they last, and when they end.

One that comes and goes within a minute counts as standing: else a share that flickers would write
two lines a round.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.logs.damper import PACED
from gatekeeper.logs.recurrence import Recurrence, span

if TYPE_CHECKING:
    import logging
    from collections.abc import Callable, Iterable

REST_S = 60.0
"""A fault that was not met for so long is over (s)."""

MOST = 100
"""Faults that are told one by one; a broken disk can make one of every file."""

MORE = "further faults are not told one by one here; `gatekeeper doctor` tells all of them"


class Standing:
    """The faults that stand now.

    Parameters
    ----------
    log : where they are told
    monotonic : seconds of a clock that never steps
    """

    def __init__(self, log: logging.Logger, monotonic: Callable[[], float]) -> None:
        self._log = log
        self._monotonic = monotonic
        self._known: dict[str, Recurrence] = {}

    def tell(self, faults: Iterable[str]) -> None:
        """Take notice of all faults as they are now, and say what is worth saying."""
        now_s = self._monotonic()
        found = list(dict.fromkeys(faults))
        for fault in [*found[:MOST], *([MORE] if len(found) > MOST else [])]:
            self._meet(fault, now_s)
        for fault in [name for name, known in self._known.items() if _is_over(known, now_s)]:
            known = self._known.pop(fault)
            lasted = span(known.seen_s - known.since_s)
            self._log.info("over, after %s: %s", lasted, fault, extra=PACED)

    def _meet(self, fault: str, now_s: float) -> None:
        known = self._known.get(fault)
        if known is None:
            self._known[fault] = Recurrence(now_s)
            self._log.warning("%s", fault, extra=PACED)
        elif known.is_due(now_s):
            lasts = span(now_s - known.since_s)
            self._log.warning("still, after %s: %s", lasts, fault, extra=PACED)


def _is_over(known: Recurrence, now_s: float) -> bool:
    return now_s - known.seen_s >= REST_S
