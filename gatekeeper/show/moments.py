"""Days and times for people: `24 Nov 10:05`, in the site's zone, the same in every language."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date, datetime, tzinfo

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day(when: date) -> str:
    """Return a day as `24 Nov`: numbers alone are read two ways in two countries."""
    return f"{when.day} {_MONTHS[when.month - 1]}"


def moment(when: datetime, zone: tzinfo) -> str:
    """Return a moment as `24 Nov 10:05`."""
    local = when.astimezone(zone)
    return f"{day(local)} {local:%H:%M}"
