"""When a thing that goes on is worth saying again: at once, then at growing intervals.

After 1, 4, 16, 64, 256 minutes, then once a day. Source: none; short enough at first to be noticed,
and a fault that stands for a year costs fewer than four hundred lines.
"""

from __future__ import annotations

from dataclasses import dataclass, field

FIRST_S = 60.0
GROWTH = 4.0
LONGEST_S = 86_400.0

_UNITS = ((172_800.0, 86_400.0, "days"), (7_200.0, 3_600.0, "h"), (120.0, 60.0, "min"))
"""From so many seconds on, in units of so many, with this name."""


@dataclass(slots=True)
class Recurrence:
    """One thing that goes on, by a clock that never steps (s)."""

    since_s: float
    seen_s: float = field(init=False)
    times: int = 1
    interval_s: float = FIRST_S
    _due_s: float = field(init=False)

    def __post_init__(self) -> None:
        self.seen_s = self.since_s
        self._due_s = self.since_s + self.interval_s

    def is_due(self, now_s: float) -> bool:
        """Note that it was met again; True when it is time to say so."""
        self.seen_s = now_s
        self.times += 1
        if now_s < self._due_s:
            return False
        self.interval_s = min(self.interval_s * GROWTH, LONGEST_S)
        self._due_s = now_s + self.interval_s
        return True


def span(seconds: float) -> str:
    """Return a length of time as people say it: 40 s, 12 min, 5 h, 3 days."""
    for least_s, unit_s, name in _UNITS:
        if seconds >= least_s:
            return f"{seconds / unit_s:.0f} {name}"
    return f"{seconds:.0f} s"
