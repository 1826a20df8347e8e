"""Keeps one line from filling the disk: the same warning again is counted, not written.

This is the wall behind everything, for lines of other libraries too. What stands and ends, such as
an alarm, is told by `standing.py`, which knows its end.
"""

from __future__ import annotations

import logging
from collections import OrderedDict
from copy import copy
from typing import TYPE_CHECKING

from gatekeeper.logs.lines import message_of
from gatekeeper.logs.recurrence import Recurrence, span

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    Key = tuple[str, int, str]

_PACED = "gatekeeper_paced"
PACED: Mapping[str, object] = {_PACED: True}
"""As `extra` of a line whose writer knows itself how often to say it."""

_MOST = 500
"""Lines that are remembered; the one that was not met for longest is forgotten first."""


class Damper:
    """Decides about each line. Not for several threads at once: its handler holds a lock."""

    def __init__(self, monotonic: Callable[[], float]) -> None:
        self._monotonic = monotonic
        self._known: OrderedDict[Key, Recurrence] = OrderedDict()

    def let_through(self, record: logging.LogRecord) -> logging.LogRecord | None:
        """Return the line to write, None for one that was written lately."""
        if record.levelno < logging.WARNING or getattr(record, _PACED, False):
            return record
        now_s = self._monotonic()
        key = record.name, record.levelno, message_of(record)
        known = self._known.get(key)
        if known is None or now_s - known.seen_s > known.interval_s:
            self._remember(key, now_s)
            return record
        self._known.move_to_end(key)
        return _again(record, known, now_s) if known.is_due(now_s) else None

    def _remember(self, key: Key, now_s: float) -> None:
        self._known[key] = Recurrence(now_s)
        self._known.move_to_end(key)
        if len(self._known) > _MOST:
            self._known.popitem(last=False)


def _again(record: logging.LogRecord, known: Recurrence, now_s: float) -> logging.LogRecord:
    line = copy(record)
    line.msg = f"{message_of(record)} ({known.times} times in {span(now_s - known.since_s)})"
    line.args = None
    return line
