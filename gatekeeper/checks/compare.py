"""Comparisons that NaN fails and that a bound passes only when it proves the point.

The unrounded value is compared. `SLACK` absorbs nothing but binary representation: 2.80 - 0.10 is
2.6999999999999997 in binary, and a film zeroed on air must get the verdict of the same film zeroed
on clear.
"""

from __future__ import annotations

from gatekeeper.sheet import Bound

SLACK = 1e-9
"""Far below the last digit of any meter, far above the error of a few binary operations."""


def at_least(value: float, lowest: float) -> bool:
    """Whether the value reaches the limit."""
    return value >= lowest - SLACK


def at_most(value: float, highest: float) -> bool:
    """Whether the value stays within the limit."""
    return value <= highest + SLACK


def proves_at_least(value: float, bound: Bound, lowest: float) -> bool | None:
    """Return True or False where the reading settles it, None where it may be either."""
    reached = at_least(value, lowest)
    if bound is Bound.AT_LEAST:
        return True if reached else None
    if bound is Bound.AT_MOST:
        return None if reached else False
    return reached


def proves_at_most(value: float, bound: Bound, highest: float) -> bool | None:
    """Return True or False where the reading settles it, None where it may be either."""
    within = at_most(value, highest)
    if bound is Bound.AT_MOST:
        return True if within else None
    if bound is Bound.AT_LEAST:
        return None if within else False
    return within
