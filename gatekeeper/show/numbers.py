"""Numbers for people: with their unit, and with as many digits as the comparison needs to be seen.

The program compares unrounded values. A reading shown as 48.0 beside a limit of 48.0 that it missed
would make the verdict look wrong, so both are shown with more digits until they differ.
"""

from __future__ import annotations

from functools import lru_cache

SAME = 1e-9
"""Values nearer than this differ only in their binary form, and are shown as equal."""

_LEAST = {"density": 2, "percent": 1, "mm": 2}
"""Decimals that the trade writes for a unit, even where they are zero; none for the others."""

_MORE = {"density": 1, "percent": 1, "mm": 1}
"""Decimals beyond those that a value is shown with unasked; two for units that are not named."""

_MOST = 9
_PLAIN_BELOW = 1e12  # larger numbers are no readings, and are shown as powers of ten

_SIGNS = {"percent": "%"}

_COUNTED = ("day", "minute", "level", "distance", "dot", "separation", "stop", "time")
_SINGULAR = {"patches": "patch", "measurements": "measurement"} | {
    f"{word}s": word for word in _COUNTED
}


def digits(value: float, unit: str = "") -> str:
    """Return the number alone: the decimals that its unit asks for, a few more if it has them."""
    return _with_decimals(value, unit, _usual_decimals(unit))


def compared(value: float, other: float, unit: str = "") -> tuple[str, str]:
    """Return two numbers with as many digits as it takes to see which one is larger."""
    for most in range(_usual_decimals(unit), _MOST + 1):
        shown = _with_decimals(value, unit, most), _with_decimals(other, unit, most)
        if abs(value - other) <= SAME or shown[0] != shown[1]:
            return shown
    return repr(float(value)), repr(float(other))


def with_unit(number: str, unit: str) -> str:
    """Return a shown number and its unit: `2.70 density`, `51.2 %`, `1 patch`."""
    if number == "1" and unit in _SINGULAR:
        unit = _SINGULAR[unit]
    return f"{number} {_SIGNS.get(unit, unit)}".rstrip()


def _usual_decimals(unit: str) -> int:
    return _LEAST.get(unit, 0) + _MORE.get(unit, 2)


@lru_cache(4_096)  # a report repeats its limits, and so does the next one
def _with_decimals(value: float, unit: str, most: int) -> str:
    """Return the value rounded to `most` decimals, without the zeros that nobody needs."""
    number = float(value)
    if not abs(number) < _PLAIN_BELOW:
        return repr(number)
    whole, point, decimals = f"{number:.{most}f}".partition(".")
    decimals = decimals.rstrip("0").ljust(min(_LEAST.get(unit, 0), most), "0")
    text = whole + (point + decimals if decimals else "")
    return text.removeprefix("-") if not float(text) else text
