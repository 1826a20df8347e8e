"""`release` and `recall`: a lead's word on a job, written as a slip into its drop folder."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import site_option, the_site
from gatekeeper.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Callable

    from gatekeeper.site import Site
    from gatekeeper.slips.slip import SlipKind


def _options(command: Callable[..., None]) -> Callable[..., None]:
    for option in (
        site_option,
        click.option(
            "--workflow", default="", metavar="W", help="Where the job's number is not enough."
        ),
        click.option(
            "--reason", required=True, metavar="TEXT", help="Why, for the report and the record."
        ),
        click.option("--by", required=True, metavar="NAME", help="Who answers for it."),
        click.argument("job", metavar="JOB"),
    ):
        command = option(command)
    return command


@click.command()
@_options
def release(job: str, by: str, reason: str, workflow: str) -> None:
    """Release a held JOB as it is, under concession.

    Writes a slip into drop/concessions. The daemon takes it if the file's owner is one of the
    leads in site.yaml, and if the job has not changed since.
    """
    from gatekeeper.slips.slip import SlipKind

    _write(SlipKind.CONCESSION, job, by, reason, workflow)


@click.command()
@_options
def recall(job: str, by: str, reason: str, workflow: str) -> None:
    """Take an approved JOB back to held."""
    from gatekeeper.slips.slip import SlipKind

    _write(SlipKind.RECALL, job, by, reason, workflow)


def _write(kind: SlipKind, job: str, by: str, reason: str, workflow: str) -> None:
    import secrets

    from gatekeeper.filing.disk import Disk
    from gatekeeper.shelf_names import CONCESSIONS
    from gatekeeper.slips.conceding import lay_slip
    from gatekeeper.slips.slip import LONGEST_REASON, Slip

    site = the_site()
    words = " ".join(reason.split())
    if not words or len(words) > LONGEST_REASON:
        raise UsageError(f"the reason must have 1 to {LONGEST_REASON} characters")
    if not site.settings.leads:
        raise UsageError(
            "site.yaml names no `leads`, so nobody may release or recall a job",
            do="let the administrator add the accounts of the leads to site.yaml",
        )
    found_job, found_workflow, digest = _job(site, kind, job, workflow)
    slip = Slip(kind, found_job, found_workflow, digest, " ".join(by.split()), words)
    folder = site.drop / CONCESSIONS
    try:
        path = lay_slip(Disk(), folder, slip, secrets.token_hex(4))
    except PermissionError as error:
        raise UsageError(
            f"you may not write into {folder}",
            do="only leads may release or recall; ask one of them",
        ) from error
    click.echo(f"wrote {path.name}; the gate takes it up when it runs")


def _job(site: Site, kind: SlipKind, job: str, workflow: str) -> tuple[str, str, str]:
    """Return number and workflow of the job that is meant, and the digest of its verdict."""
    from gatekeeper.filing.folder import VERDICT, sha256_of
    from gatekeeper.screens.lookup import folders_of
    from gatekeeper.slips.slip import SlipKind

    wanted = "held" if kind is SlipKind.CONCESSION else "approved"
    found = folders_of(site, job, workflow)
    fitting = [(folder, record) for folder, record in found if record.verdict.decision == wanted]
    if not fitting:
        state = found[0][1].verdict.decision.value
        raise UsageError(f"job {job} is {state}, not {wanted}", do=f"gatekeeper why {job}")
    if len(fitting) > 1:
        shelves = ", ".join(record.verdict.workflow for _, record in fitting)
        raise UsageError(
            f"job {job} is {wanted} in several workflows", do=f"add --workflow: {shelves}"
        )
    folder, record = fitting[0]
    verdict = record.verdict
    return verdict.job, verdict.workflow, sha256_of((folder / VERDICT).read_bytes())
