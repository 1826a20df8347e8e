"""What a measure takes and gives: one number, or one axis of numbers.

Every public function of `measures` reads its arguments here, so that all of them take and
refuse the same things and name them in the same way.

Taken    int, float, Fraction, Decimal and numpy's real numbers; lists, tuples and other
         sequences of them; numpy arrays of one axis (an array of no axis is one number).
Refused  truth values, text, None, NaN, infinities, complex numbers, nested lists, sets and
         one-shot iterators: each has arrived by mistake, and none may become a number quietly.
Given    one number comes back as a float, a sequence as a list, a numpy array as a numpy array.

numpy is not needed and never imported. An object can be a numpy array only where somebody has
imported numpy already, so `sys.modules` tells both whether to look and how to build the answer.
The plate-room service, which imports no numpy, is spared its start-up time and memory; a person
with numpy gets arrays. Working on lists costs nothing here: a sheet has some sixty readings.

Errors   `MeasureError`, naming the argument and the first offending index.
"""

from __future__ import annotations

import math
import reprlib
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import IntEnum
from numbers import Real
from typing import TYPE_CHECKING, Generic, TypeVar, cast

from gatekeeper.measures.errors import MeasureError

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import TypeAlias

    import numpy as np
    from numpy.typing import NDArray

    Series: TypeAlias = Sequence[float] | NDArray[np.float64]

Numbers = TypeVar("Numbers", float, Sequence[float], "NDArray[np.float64]")
"""One number, a sequence or a numpy array; a function that takes one gives back the same."""


@dataclass(frozen=True)
class Range:
    """The values an argument may have; `hint` says what the caller probably meant."""

    above: float = -math.inf
    at_least: float = -math.inf
    at_most: float = math.inf
    hint: str = ""

    def problem(self, value: float) -> str | None:
        """Say what is wrong with a value, as the rest of a sentence; None if it lies inside."""
        if value <= self.above:
            wanted = f"above {self.above:g}"
        elif value < self.at_least:
            wanted = f"at least {self.at_least:g}"
        elif value > self.at_most:
            wanted = f"at most {self.at_most:g}"
        else:
            return None
        return f"is {value!r} but must be {wanted}" + (f" ({self.hint})" if self.hint else "")


FINITE = Range()
POSITIVE = Range(above=0.0)
NOT_NEGATIVE = Range(at_least=0.0)


class _Shape(IntEnum):
    """How the answer looks; of several arguments the highest decides."""

    NUMBER = 0
    SEQUENCE = 1
    ARRAY = 2


@dataclass(frozen=True)
class Argument(Generic[Numbers]):
    """One checked argument, which may be one number or many."""

    name: str
    values: tuple[float, ...]
    shape: _Shape


def number(value: object, argument: str, within: Range = FINITE) -> float:
    """One finite number, or a `MeasureError` that names the argument.

    Examples
    --------
    >>> number(2, "n")
    2.0
    """
    read = _read(value, argument)
    if read.shape is not _Shape.NUMBER:
        raise MeasureError(argument, "must be one number, not several")
    _check_range(read, within)
    return read.values[0]


def numbers(
    values: object, argument: str, within: Range = FINITE, *, fewest: int = 0
) -> list[float]:
    """One axis of finite numbers as a new list, in the order given.

    Examples
    --------
    >>> numbers((1, 2.5), "values", fewest=2)
    [1.0, 2.5]
    """
    read = _read(values, argument)
    if read.shape is _Shape.NUMBER:
        raise MeasureError(argument, "must be a list of numbers, not one number")
    _check_range(read, within)
    if len(read.values) < fewest:
        raise MeasureError(argument, f"needs at least {fewest} numbers but has {len(read.values)}")
    return list(read.values)


def count(value: object, argument: str, *, at_least: int = 1) -> int:
    """One whole number, such as a number of steps.

    Examples
    --------
    >>> count(21, "steps")
    21
    """
    whole = number(value, argument, Range(at_least=at_least))
    if not whole.is_integer():
        raise MeasureError(argument, f"is {whole!r} but must be a whole number")
    return int(whole)


def choice(value: object, argument: str, allowed: tuple[str, ...]) -> str:
    """One of the allowed words.

    Examples
    --------
    >>> choice("negative", "reading", ("negative", "positive"))
    'negative'
    """
    if not isinstance(value, str) or value not in allowed:
        words = " or ".join(f'"{word}"' for word in allowed)
        raise MeasureError(argument, f"is {reprlib.repr(value)} but must be {words}")
    return value


def same_length(first: str, first_values: list[float], second: str, others: list[float]) -> None:
    """Refuse two lists that should be entry by entry alike and are not of one length."""
    if len(first_values) != len(others):
        raise MeasureError(second, f"has {len(others)} numbers but {first} has {len(first_values)}")


def argument(value: Numbers | float, name: str, within: Range = FINITE) -> Argument[Numbers]:
    """Check one argument of a function that works entry by entry; for `elementwise`."""
    read: Argument[Numbers] = _read(value, name)
    _check_range(read, within)
    return read


def elementwise(formula: Callable[..., float], *arguments: Argument[Numbers]) -> Numbers:
    """Apply a formula entry by entry; an argument that is one number serves every entry.

    Examples
    --------
    >>> elementwise(lambda a, b: a - b, argument([1.5, 2.0], "a"), argument(0.5, "b"))
    [1.0, 1.5]
    """
    shape, rows = _rows(arguments)
    name = arguments[0].name
    results = [_evaluate(formula, row, name, index) for index, row in rows]
    return cast("Numbers", _rebuild(results, shape))


def require_above(larger: Argument[Numbers], smaller: Argument[Numbers]) -> None:
    """Refuse a pair of arguments in which the first does not lie above the second.

    Examples
    --------
    >>> require_above(argument(1440, "dpi"), argument(65, "lpi"))
    """
    _, rows = _rows((larger, smaller))
    for index, (high, low) in rows:
        if high <= low:
            problem = f"is {high!r} but must be above {smaller.name}, {low!r}"
            raise MeasureError(larger.name, problem, index)


def _evaluate(
    formula: Callable[..., float], row: tuple[float, ...], name: str, index: int | None
) -> float:
    try:
        result = formula(*row)
    except (OverflowError, ZeroDivisionError):
        result = math.inf
    if not math.isfinite(result):
        raise MeasureError(name, f"is {row[0]!r}, which gives no finite result", index)
    return result


def _rebuild(results: list[float], shape: _Shape) -> object:
    if shape is _Shape.NUMBER:
        return results[0]
    if shape is _Shape.SEQUENCE:
        return results
    return sys.modules["numpy"].array(results, dtype=float)


def _rows(
    arguments: tuple[Argument[Numbers], ...],
) -> tuple[_Shape, list[tuple[int | None, tuple[float, ...]]]]:
    """Set the arguments side by side, each row with the index that an error would name."""
    shape = max(each.shape for each in arguments)
    length = _common_length(arguments)
    columns = [
        each.values * length if each.shape is _Shape.NUMBER else each.values for each in arguments
    ]
    rows = zip(*columns, strict=True)
    if shape is _Shape.NUMBER:
        return shape, [(None, row) for row in rows]
    return shape, list(enumerate(rows))


def _common_length(arguments: tuple[Argument[Numbers], ...]) -> int:
    many = [each for each in arguments if each.shape is not _Shape.NUMBER]
    if not many:
        return 1
    for other in many[1:]:
        same_length(many[0].name, list(many[0].values), other.name, list(other.values))
    return len(many[0].values)


def _read(value: object, name: str) -> Argument[Numbers]:
    if type(value) is float:  # as nearly always; what follows asks ten times as much
        return Argument(name, (_finite(value, name, None),), _Shape.NUMBER)
    shape = _Shape.SEQUENCE
    array_type = getattr(sys.modules.get("numpy"), "ndarray", None)
    if array_type is not None and isinstance(value, array_type):
        if value.ndim > 1:
            raise MeasureError(name, f"has {value.ndim} axes but must have one")
        shape = _Shape.ARRAY if value.ndim else _Shape.NUMBER
        value = value.tolist()
    if not _is_sequence(value):
        return Argument(name, (_finite(value, name, None),), _Shape.NUMBER)
    entries = cast("Sequence[object]", value)
    finite = tuple(_finite(entry, name, index) for index, entry in enumerate(entries))
    return Argument(name, finite, shape)


def _is_sequence(value: object) -> bool:
    return isinstance(value, Sequence) and not isinstance(
        value, str | bytes | bytearray | memoryview
    )


def _finite(value: object, name: str, index: int | None) -> float:
    if type(value) is float and math.isfinite(value):
        return value
    if isinstance(value, bool) or not isinstance(value, Real | Decimal):
        raise MeasureError(name, f"is {reprlib.repr(value)}, not a number", index)
    try:
        result = float(value)
    except OverflowError:
        result = math.inf
    except ValueError:  # a signalling NaN of the decimal module
        result = math.nan
    if not math.isfinite(result):
        raise MeasureError(name, f"is {result!r}, not a finite number", index)
    return result


def _check_range(read: Argument[Numbers], within: Range) -> None:
    for index, value in enumerate(read.values):
        problem = within.problem(value)
        if problem is not None:
            place = None if read.shape is _Shape.NUMBER else index
            raise MeasureError(read.name, problem, place)
