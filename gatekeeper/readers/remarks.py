"""What a reader has to say besides the values: problems that hold the job, notes that do not."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from gatekeeper.sheet import NOWHERE, Problem, Trace
from gatekeeper.wording import counted

if TYPE_CHECKING:
    from gatekeeper.readers.refusal import RefusedValueError

MOST = 100
"""Problems and notes kept; a person mends the first few and sends the file again."""


class Remarks:
    """Collects problems and notes of one file, in the order found, no more than `MOST` of each."""

    def __init__(self) -> None:
        self.separation = ""  # what is being read; problems belong to it unless they say otherwise
        self._problems: list[Problem] = []
        self._notes: dict[str, None] = {}  # in order, each sentence once
        self._left_out = 0
        self._unended_line = 0

    def ends_with(self, text: str) -> None:
        """Note whether the text ends in a line that has no end: what is odd there was cut off."""
        if not text.endswith("\n"):
            self._unended_line = text.count("\n") + 1
            self.note("the last line has no line end")

    def problem(self, says: str, do: str, trace: Trace = NOWHERE, separation: str = "") -> None:
        """Keep something that cannot be used."""
        if self._unended_line and trace.line == self._unended_line:
            says = f"{says}; this last line has no end: the file may have been cut off here"
            do = f"compare the file with where it came from, and drop the whole one; else {do}"
        if len(self._problems) < MOST:
            self._problems.append(Problem(says, do, trace, separation or self.separation))
        else:
            self._left_out += 1

    def refused(
        self, name: str, error: RefusedValueError, trace: Trace, separation: str = ""
    ) -> None:
        """Keep a value that could not be read, with the name of its field or column."""
        self.problem(f"{name}: {error.says}", error.do, trace, separation)

    def note(self, says: str) -> None:
        """Keep something harmless that a person should know."""
        if len(self._notes) < MOST:
            self._notes[says] = None

    def problems(self, lone: str = "") -> tuple[Problem, ...]:
        """Return the problems, with a last one that counts those left out.

        Parameters
        ----------
        lone : separation of the file's only negative, to which all its problems belong
        """
        found = self._problems
        if lone:
            found = [
                problem if problem.separation else replace(problem, separation=lone)
                for problem in found
            ]
        if self._left_out:
            says = f"{counted(self._left_out, 'further problem')} not listed"
            found = [*found, Problem(says, "mend the ones above first", separation=lone)]
        return tuple(found)

    @property
    def notes(self) -> tuple[str, ...]:
        """The notes, each once."""
        return tuple(self._notes)
