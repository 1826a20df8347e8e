"""Copies of the history in state/backups/: one a day, named by it, and which are kept. Pure."""

from __future__ import annotations

from datetime import date

BACKUPS = "backups"
PREFIX = "history-"
_ENDING = ".sqlite"


def copy_name(day: date) -> str:
    """Return the name of a day's copy."""
    return f"{PREFIX}{day}{_ENDING}"


def superseded(names: list[str], today: date, keep_days: int, keep_months: int) -> list[str]:
    """Return the copies that need not be kept; what bears another name is nobody's to delete.

    Kept are those of the last `keep_days` days, and the first of each of the last `keep_months`
    months.
    """
    dated = {name: day for name in names if (day := day_of(name))}
    first: dict[tuple[int, int], date] = {}
    for day in sorted(dated.values()):
        first.setdefault((day.year, day.month), day)
    months = {day for day in first.values() if _months_between(day, today) < keep_months}
    return [
        name
        for name, day in sorted(dated.items())
        if (today - day).days >= keep_days and day not in months
    ]


def _months_between(day: date, today: date) -> int:
    return 12 * (today.year - day.year) + today.month - day.month


def day_of(name: str) -> date | None:
    """Return the day of a copy, None for a file that is none."""
    if not (name.startswith(PREFIX) and name.endswith(_ENDING)):
        return None
    try:
        return date.fromisoformat(name[len(PREFIX) : -len(_ENDING)])
    except ValueError:
        return None
