"""Why a text cannot be used as the value that its place asks for."""

from __future__ import annotations


class RefusedValueError(ValueError):
    """A text that is no value of its kind: what is wrong, and how to write it.

    Stays inside the readers: whoever asked for the value turns it into a `Problem` with its place.
    """

    def __init__(self, says: str, do: str) -> None:
        super().__init__(says)
        self.says = says
        self.do = do
