"""The text of a date, with or without a time, → an instant. Nothing is guessed.

Forms    ISO 8601 calendar dates, year first: 2026-11-20, 2026-11-20 09:40, 20261120T0940Z; besides
         these, only the patterns that the site or a profile declares. 03/04/2026 is refused.
Clock    a time without an offset is the site's local time. One that the clock change leaves out or
         gives twice is refused unless its offset is written.
Source   ISO 8601-1:2019, 5.2.2 and 5.4 (from memory); common practice for blank instead of T.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from typing import TYPE_CHECKING

from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.sheet import NOWHERE, Moment, Trace
from gatekeeper.wording import quoted

if TYPE_CHECKING:
    from collections.abc import Sequence

_ISO = re.compile(
    r"(?P<year>[0-9]{4})(?P<dash>-?)(?P<month>[0-9]{2})(?P=dash)(?P<day>[0-9]{2})"
    r"(?:(?:T|[ ]+)(?P<hour>[0-9]{1,2}):?(?P<minute>[0-9]{2})(?::?(?P<second>[0-9]{2})"
    r"(?:[.,](?P<fraction>[0-9]{1,9}))?)?"
    r"[ ]?(?P<offset>Z|[+−-][0-9]{2}(?::?[0-9]{2})?)?)?"
)
_NUMBERS_ONLY = re.compile(r"([0-9]{1,4})[./ -]([0-9]{1,2})[./ -]([0-9]{1,4})(?:[ T,].*)?")
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July",
    "August", "September", "October", "November", "December",
)  # fmt: skip
_ISO_EXAMPLE = "write year-month-day, such as 2026-11-20 or 2026-11-20 09:40"
_EARLIEST, _LATEST = 1970, 2199  # no film, meter or job outside these years
_LONGEST = 60
_HAS_TIME = re.compile(r"%[HIMSfXcTR]")


def moment_of(
    text: str, *, time_zone: tzinfo, date_formats: Sequence[str] = (), trace: Trace = NOWHERE
) -> Moment:
    """Return the instant that the text means.

    Parameters
    ----------
    time_zone : what a time without an offset is in
    date_formats : further `strptime` patterns, declared by the site or the profile

    Raises
    ------
    RefusedValueError : no date, no such day or time, or more than one meaning
    """
    word = text.strip()
    if len(word) > _LONGEST or not word.isascii():
        word = word.replace("−", "-")
        if len(word) > _LONGEST or not word.isascii():
            raise RefusedValueError(f"{quoted(text, 40)} is not a date", _ISO_EXAMPLE)
    naive_or_aware, has_time = _read(word, date_formats)
    if not _EARLIEST <= naive_or_aware.year <= _LATEST:
        raise RefusedValueError(f"{quoted(word)} is not in this or the last century", _ISO_EXAMPLE)
    return Moment(_placed(naive_or_aware, has_time, time_zone, word), text.strip(), has_time, trace)


def _read(word: str, date_formats: Sequence[str]) -> tuple[datetime, bool]:
    declared = _declared(word, date_formats)
    if found := _ISO.fullmatch(word):
        iso = _from_iso(found, word)
        declared = {**declared, iso: found["hour"] is not None}
    if len(declared) > 1:
        meanings = " and as ".join(f"{meaning:%Y-%m-%d %H:%M}" for meaning in sorted(declared))
        raise RefusedValueError(f"{quoted(word)} can be read as {meanings}", _ISO_EXAMPLE)
    if not declared:
        raise _refusal(word)
    return declared.popitem()


def _declared(word: str, date_formats: Sequence[str]) -> dict[datetime, bool]:
    """Return every meaning that the declared patterns give, and whether it has a time."""
    meanings: dict[datetime, bool] = {}
    for pattern in date_formats:
        try:
            meaning = datetime.strptime(word, pattern)  # noqa: DTZ007 -- the zone is set by _placed
        except ValueError:
            continue
        meanings[meaning] = _HAS_TIME.search(pattern) is not None
    return meanings


def _from_iso(found: re.Match[str], word: str) -> datetime:
    try:
        return datetime(
            int(found["year"]),
            int(found["month"]),
            int(found["day"]),
            int(found["hour"] or 0),
            int(found["minute"] or 0),
            int(found["second"] or 0),
            int((found["fraction"] or "0").ljust(6, "0")[:6]),
            tzinfo=_offset(found["offset"]),
        )
    except ValueError as error:
        raise RefusedValueError(f"there is no day or time {quoted(word)}", _ISO_EXAMPLE) from error


def _offset(text: str | None) -> timezone | None:
    if not text:
        return None
    if text == "Z":
        return UTC
    digits = text[1:].replace(":", "").ljust(4, "0")
    size = timedelta(hours=int(digits[:2]), minutes=int(digits[2:]))
    return timezone(size if text[0] == "+" else -size)


def _placed(moment: datetime, has_time: bool, time_zone: tzinfo, word: str) -> datetime:  # noqa: FBT001
    """Return the instant with its zone; refuse a local time that the clock skips or repeats."""
    if moment.tzinfo is not None:
        return moment
    first = moment.replace(tzinfo=time_zone)
    before, after = first.utcoffset(), first.replace(fold=1).utcoffset()
    if before == after or not has_time or before is None or after is None:
        return first
    if before < after:
        raise RefusedValueError(
            f"the local time {quoted(word)} does not exist: the clock was set forward over it",
            "correct the time, or write its offset, such as 2026-03-29 02:30+01:00",
        )
    spelled = " and as ".join(f"{word}{_spelled(offset)}" for offset in (before, after))
    raise RefusedValueError(
        f"the local time {quoted(word)} came twice that day: it can be read as {spelled}",
        "write the offset behind it",
    )


def _spelled(offset: timedelta) -> str:
    minutes = round(offset.total_seconds() / 60)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def _refusal(word: str) -> RefusedValueError:
    """Return the reason that fits best, naming every meaning that the text may have."""
    if re.search(r"[0-9]\s*[ap]\.?m", word, re.IGNORECASE):
        return RefusedValueError(
            f"{quoted(word)} has a twelve-hour time", "write 21:40 for 9:40 pm"
        )
    if found := _NUMBERS_ONLY.fullmatch(word):
        meanings = sorted(_meanings(*(int(part) for part in found.groups())))
        if len(meanings) > 1:
            both = " and as ".join(_long(meaning) for meaning in meanings)
            return RefusedValueError(
                f"{quoted(word)} can be read as {both}",
                "write " + " or ".join(f"{meaning:%Y-%m-%d}" for meaning in meanings)
                + ", or declare the date format in site.yaml",
            )  # fmt: skip
        if meanings:
            return RefusedValueError(
                f"{quoted(word)} is not in a form that this site has declared",
                f"write {meanings[0]:%Y-%m-%d}, or declare the date format in site.yaml",
            )
    if not re.search(r"[0-9]{4}", word) and re.search(r"[0-9]", word):
        missing = (
            "a day" if re.fullmatch(r"[0-9]{1,2}:[0-9]{2}.*", word) else "a year of four digits"
        )
        return RefusedValueError(f"{quoted(word)} is a date without {missing}", _ISO_EXAMPLE)
    return RefusedValueError(f"{quoted(word)} is not a date", _ISO_EXAMPLE)


def _meanings(first: int, second: int, third: int) -> set[datetime]:
    """Return the days that three numbers may mean: day, month, year in any order people use."""
    orders = [(third, second, first), (third, first, second), (first, second, third)]
    found = set()
    for year, month, day in orders:
        full_year = year + 2000 if year < 100 else year  # noqa: PLR2004 -- two-digit years
        try:
            found.add(datetime(full_year, month, day))  # noqa: DTZ001 -- a calendar day only
        except ValueError:
            continue
    return {meaning for meaning in found if _EARLIEST <= meaning.year <= _LATEST}


def _long(day: datetime) -> str:
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"
