"""What the administrator wrote, as the gate meets it at one moment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.rules.library import UnknownNameError
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem

if TYPE_CHECKING:
    from datetime import tzinfo

    from gatekeeper.readers.interface import Declarations
    from gatekeeper.register.register import Register
    from gatekeeper.rules.library import Library


@dataclass(frozen=True, slots=True)
class Situation:
    """Rules, register and what the site declares about its files."""

    library: Library
    register: Register
    declarations: Declarations
    time_zone: tzinfo
    leads: frozenset[str] = frozenset()  # users whose slips count, by name or number
    no_concession: frozenset[str] = frozenset()  # rules, or whole sections, that no slip releases
    for_all: tuple[FileProblem, ...] = ()  # problems of register and profiles: every job waits

    def require_good_rules(self, workflow: str, customer: str) -> None:
        """Raise `BrokenFilesError` while a file that governs this job is broken.

        Unknown names are the job's own fault.
        """
        if self.for_all:
            raise BrokenFilesError(self.for_all)
        try:
            self.library.effective(workflow, customer)
        except UnknownNameError:
            return

    def blocks(self, workflow: str) -> tuple[FileProblem, ...]:
        """Return the problems for which every job of a workflow waits, whoever its customer is."""
        return self.for_all or self.library.is_broken_for(workflow)
