"""The clock of the demo."""

from __future__ import annotations

import time
from datetime import timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime


class DemoClock:
    """Stands where the demo's sheets were written, and moves a second with each look."""

    def __init__(self, start: datetime) -> None:
        self._now = start

    def now(self) -> datetime:
        """Return a moment one second after the last."""
        self._now += timedelta(seconds=1)
        return self._now

    def monotonic(self) -> float:
        """Return the machine's own count: files really settle."""
        return time.monotonic()
