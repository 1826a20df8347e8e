"""Finding a job by its number, where it stands now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.errors import UsageError
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.folder import VERDICT, read_record, verdict_numbers
from gatekeeper.filing.names import shelf_name
from gatekeeper.filing.spelling import known_folder
from gatekeeper.room import roots_of
from gatekeeper.rules.job_ticket import is_ticket
from gatekeeper.screens.waiting import waiting_now
from gatekeeper.verdict import Decision
from gatekeeper.wording import did_you_mean, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.site import Site
    from gatekeeper.verdict import Verdict
    from gatekeeper.verdict_document import VerdictRecord


def find_job(site: Site, job: str, workflow: str = "") -> list[VerdictRecord]:
    """Return the verdict of every job of this number, one a workflow; archived ones if no other.

    Raises
    ------
    UsageError : there is none; says what waits under this name, or names the nearest job
    """
    try:
        return [record for _, record in folders_of(site, job, workflow)]
    except UsageError:
        archived = list(_archived(site, job, workflow))
        if not archived:
            raise
        return archived


def folders_of(site: Site, job: str, workflow: str = "") -> list[tuple[Path, VerdictRecord]]:
    """Return folder and verdict of every job of this number, one a workflow.

    Raises
    ------
    UsageError : there is none; says what waits under this name, or names the nearest job
    """
    disk = Disk()
    found: list[tuple[Path, VerdictRecord]] = []
    names: list[str] = []
    for shelf in _shelves(disk, site, workflow):
        folder = shelf / known_folder(disk, roots_of(site), shelf.name, job)
        record = read_record(disk, folder / VERDICT)
        if record:
            found.append((folder, record))
        else:
            names += disk.names(shelf)
    if found:
        return found
    waiting = _waiting(site, job)
    if waiting:
        raise UsageError(f"job {quoted(job)} is not filed yet: {waiting}")
    known = [name for name in names if not name.startswith(".")]
    nothing = "drop its sheet; gatekeeper jobs lists what waits"
    raise UsageError(
        f"no job {quoted(job)} stands under approved or held"
        + (f" in {quoted(workflow)}" if workflow else ""),
        do=did_you_mean(job, known) if known else nothing,
    )


def earlier_verdicts(site: Site, verdict: Verdict) -> list[Verdict]:
    """Return the verdicts that this one replaced, oldest first, as far as they can be read."""
    disk = Disk()
    folder = _filed(site, verdict)
    records = (
        read_record(disk, folder / f"verdict.{number}.json")
        for number in verdict_numbers(disk, folder)
    )
    return [record.verdict for record in records if record]


def late_tickets(site: Site, verdict: Verdict) -> list[str]:
    """Return the job tickets that joined the job's folder after its verdict was given."""
    known = {ticket.name for ticket in verdict.job_tickets}
    names = Disk().names(_filed(site, verdict))
    return [name for name in names if is_ticket(name) and name not in known | _sheets(verdict)]


def _sheets(verdict: Verdict) -> set[str]:
    return {sheet.name for sheet in verdict.sheets}


def _filed(site: Site, verdict: Verdict) -> Path:
    """Return where the job of a verdict stands, as its decision says."""
    shelf = shelf_name(verdict.workflow)
    root = site.approved if verdict.decision is Decision.APPROVED else site.held
    return root / shelf / known_folder(Disk(), roots_of(site), shelf, verdict.job)


def _shelves(disk: Disk, site: Site, workflow: str) -> list[Path]:
    return [
        root / name
        for root in (site.held, site.approved)
        for name in disk.names(root)
        if not name.startswith(".") and (not workflow or name == shelf_name(workflow))
    ]


def _archived(site: Site, job: str, workflow: str) -> Iterator[VerdictRecord]:
    """Yield the newest archived verdict of each workflow: archive/<year>/<month>/<workflow>/."""
    disk = Disk()
    told: set[str] = set()
    months = (
        month for year in _newest_first(disk, site.archive) for month in _newest_first(disk, year)
    )
    for shelf in (shelf for month in months for shelf in _newest_first(disk, month)):
        if shelf.name in told or (workflow and shelf.name != shelf_name(workflow)):
            continue
        name = known_folder(disk, roots_of(site), shelf.name, job)
        record = read_record(disk, shelf / name / VERDICT)
        if record:
            told.add(shelf.name)
            yield record


def _newest_first(disk: Disk, folder: Path) -> list[Path]:
    """Return the folders in a folder, those named by a later number first."""
    names = reversed(disk.names(folder))
    return [folder / name for name in names if disk.is_folder(folder / name)]


def _waiting(site: Site, job: str) -> str:
    for entry in waiting_now(site):
        if entry.name.casefold().startswith(job.casefold()):
            return f"{entry.name} in drop/{entry.folder}: {entry.reason}"
    return ""
