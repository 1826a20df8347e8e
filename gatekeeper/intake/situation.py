"""What the administrator wrote, as the gate meets it at one moment."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Protocol

from gatekeeper.intake.scan import is_litter
from gatekeeper.rules.library import UnknownNameError
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import tzinfo

    from gatekeeper.case import Case
    from gatekeeper.readers.interface import Declarations
    from gatekeeper.register.register import Register
    from gatekeeper.rules.library import Library
    from gatekeeper.signals import Signals


class SignalSource(Protocol):
    """Who knows what the control charts show."""

    def of(self, case: Case, library: Library, register: Register) -> Mapping[str, Signals]:
        """Return what stands for each film of a job, by its folded separation."""
        ...

    def catch_up(self, library: Library, register: Register, zone: tzinfo) -> None:
        """Look at what was recorded of late, so that the next job need not wait for that."""
        ...


class NoCharts:
    """For who has no history to look at: what the charts show is not known."""

    def of(self, _case: Case, _library: Library, _register: Register) -> Mapping[str, Signals]:
        """Return nothing for any film."""
        return {}

    def catch_up(self, _library: Library, _register: Register, _zone: tzinfo) -> None:
        """Do nothing."""


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
    is_being_edited: bool = False  # other rules lie there by now, and are not at rest yet
    litter: tuple[str, ...] = ()  # patterns of names that programs leave behind
    charts: SignalSource = field(default_factory=NoCharts)

    def is_litter(self, name: str) -> bool:
        """Whether a name is an editor's or a file manager's."""
        return is_litter(name, self.litter)

    def with_signals(self, case: Case) -> Case:
        """Return the case with what the control charts show for its films."""
        return replace(case, signals=self.charts.of(case, self.library, self.register))

    def catch_up(self) -> None:
        """Let the control charts take in what was recorded of late, while nobody waits for it."""
        self.charts.catch_up(self.library, self.register, self.time_zone)

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
