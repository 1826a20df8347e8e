"""Where everything of one ticket lies: claim, bench, landing and target."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from gatekeeper.filing.names import shelf_name

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.tickets import Ticket

WORK = ".gatekeeper"
SITE_ID = "site-id"
DONE = ".done"
"""Ending of what a rename has made rubbish: it is deleted at the next start at the latest."""


@dataclass(frozen=True)  # without slots, for what is cached: paths are asked for again and again
class Roots:
    """The folders of a site between which jobs move, their mark, and this gate's name."""

    drop: Path
    approved: Path
    held: Path
    gate: str
    mark: str = ""

    def drop_folder(self, workflow: str) -> Path:
        """Return where files of a workflow arrive; drop/ itself for no workflow."""
        return self.drop / workflow if workflow else self.drop

    def claims(self, drop_folder: Path) -> Path:
        """Return where this gate's claims on a drop folder lie."""
        return drop_folder.joinpath(WORK, self.gate)

    @cached_property
    def benches(self) -> Path:
        """Where this gate works on job folders: beside held, for held is where doubt ends."""
        return self.held / WORK / self.gate

    @cached_property
    def landings(self) -> Path:
        """Where job folders are copied to when approved is on another filesystem."""
        return self.approved / WORK / self.gate


@dataclass(frozen=True)
class Desk:
    """The paths of one ticket."""

    roots: Roots
    ticket: Ticket

    @cached_property
    def noted(self) -> list[JobName]:
        """Which job it belongs to, once that was read: the note of it is never rewritten."""
        return []

    @cached_property
    def drop_folder(self) -> Path:
        """Where the sheet arrived."""
        return self.roots.drop_folder(self.ticket.workflow)

    @cached_property
    def dropped_folder(self) -> Path | None:
        """The folder in which the sheet was dropped, None where it lay in the drop folder."""
        parent = self.sheet_in_drop.parent
        return None if parent in {self.drop_folder, self.drop_folder / WORK} else parent

    @cached_property
    def claim(self) -> Path:
        """The ticket's own folder."""
        return self.roots.claims(self.drop_folder) / self.ticket.id

    @cached_property
    def originals(self) -> Path:
        """Where the claimed files lie."""
        return self.claim / "in"

    @cached_property
    def sheet_in_drop(self) -> Path:
        """The sheet before the claim."""
        return self.drop_folder / self.ticket.sheet.name

    @cached_property
    def sheet_in_claim(self) -> Path:
        """The sheet after the claim."""
        return self.originals / self.ticket.sheet.own_name

    @cached_property
    def bench(self) -> Path:
        """Where the job folder is worked on; temporary files lie here, never in `job`."""
        return self.roots.benches / self.ticket.id

    @cached_property
    def job(self) -> Path:
        """The job folder while it is worked on."""
        return self.bench / "job"

    @cached_property
    def landing(self) -> Path:
        """Where its folder goes by on approved's filesystem."""
        return self.roots.landings / self.ticket.id

    @cached_property
    def landed(self) -> Path:
        """The copy of the job folder that is to be approved, on approved's filesystem."""
        return self.landing / "job"

    @cached_property
    def taken(self) -> Path:
        """The job folder taken out of approved, before it is copied to the bench."""
        return self.landing / "taken"


@dataclass(frozen=True, slots=True)
class JobName:
    """Which job a ticket belongs to, once its sheet has been read; never changed afterwards."""

    job: str
    workflow: str  # of the folder under approved and held
    folder: str  # the job folder's name

    @property
    def shelf(self) -> str:
        """Name of the workflow's folder under approved and held."""
        return shelf_name(self.workflow)

    @property
    def place(self) -> tuple[str, str]:
        """Shelf and folder: what makes two tickets one job's."""
        return self.shelf, self.folder

    def target(self, root: Path) -> Path:
        """Return the job folder under approved or held."""
        return root.joinpath(self.shelf, self.folder)
