"""The kinds of trouble, told apart by who must act. Findings are values, no errors: verdict.py.

Anything raised that is none of these is a fault of the program: the daemon logs it with its
traceback and holds the job as not judged.
"""

from __future__ import annotations

from dataclasses import dataclass

from typing_extensions import override

THEN = "; "
"""Stands in one line between what is wrong and what to do."""


@dataclass(eq=False)
class GatekeeperError(Exception):
    """What is wrong, where it stands (and who set it), what to do."""

    what: str
    where: str = ""
    do: str = ""

    @property
    def line(self) -> str:
        """What is wrong and what to do, in one line."""
        return f"{self.what}{THEN}{self.do}" if self.do else self.what

    @override
    def __str__(self) -> str:
        """Return the message in the order in which a person needs it."""
        parts = [self.what]
        if self.where:
            parts.append(f"  where  {self.where}")
        if self.do:
            parts.append(f"  do     {self.do}")
        return "\n".join(parts)


class JobError(GatekeeperError):
    """The job's own file is at fault: the job is held with this reason."""


class UnreadableSheetError(JobError):
    """The file is not a sheet that can be read."""


class RulesError(GatekeeperError):
    """A file of the administrator is wrong: the jobs that it governs wait in their drop folder."""


class RoomError(GatekeeperError):
    """Disk, share or database is at fault: the job stays where it is and is tried again."""


class UsageError(GatekeeperError):
    """The command was called in a way that cannot work."""
