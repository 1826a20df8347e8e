"""The one error that every measure raises.

Errors   `MeasureError` is a `ValueError`, so a caller that knows no measures can still catch it.
"""

from __future__ import annotations

from typing import ClassVar

from typing_extensions import override


class MeasureError(ValueError):
    """An argument that a measure cannot use.

    Parameters
    ----------
    argument : name of the argument, as the function's signature spells it
    problem : what is wrong, as the rest of a sentence that begins with the argument
    index : position of the first offending entry, counted from 0; None for a single number

    Examples
    --------
    >>> print(MeasureError("tint", "is nan, not a finite number", 2))
    tint[2] is nan, not a finite number
    """

    name: ClassVar[str] = "unusable-argument"

    def __init__(self, argument: str, problem: str, index: int | None = None) -> None:
        # All three go to the base class, or the error would not survive pickling.
        super().__init__(argument, problem, index)
        self.argument = argument
        self.problem = problem
        self.index = index

    @override
    def __str__(self) -> str:
        place = "" if self.index is None else f"[{self.index}]"
        return f"{self.argument}{place} {self.problem}"
