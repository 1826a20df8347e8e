"""The one place that asks what time it is, so that everything else can be told."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Wall time for records, monotonic time for waiting; the two are never mixed."""

    def now(self) -> datetime:
        """Return the present moment in UTC, with its zone."""
        ...

    def monotonic(self) -> float:
        """Return seconds that never jump."""
        ...


class SystemClock:
    """The machine's own clock."""

    def now(self) -> datetime:
        """Return the present moment in UTC."""
        return datetime.now(UTC)  # noqa: TID251 -- this is the clock that others take

    def monotonic(self) -> float:
        """Return seconds since some fixed moment."""
        return time.monotonic()
