"""`meters checks` and `meters doubt`: how meters have read their tablets, and what that doubts."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import Exit, console, json_option, leave, print_json, site_option, the_site

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from gatekeeper.control.meter_doubt import Doubt
    from gatekeeper.site import Site


@click.command("checks")
@click.argument("meter")
@site_option
@json_option
def list_checks(meter: str, as_json: bool) -> None:
    """List the checks of a meter, and how far it was off.

    Exit status: 0 its newest check was good, or none was made, 1 it failed, 2 could not run.
    """
    from gatekeeper.care.meter_watch import checks_of_meter
    from gatekeeper.clock import SystemClock
    from gatekeeper.errors import UsageError
    from gatekeeper.room import read_book
    from gatekeeper.show.meters import check_lines
    from gatekeeper.wording import did_you_mean, quoted

    site = the_site()
    register = read_book(site).register
    if register.meter(meter) is None:
        raise UsageError(
            f"no meter is called {quoted(meter)}", do=did_you_mean(meter, register.meters)
        )
    found = checks_of_meter(site, register, meter, SystemClock())
    if as_json:
        print_json(
            [
                {
                    "at": check.at.isoformat(),
                    "passed": check.passed,
                    "readings": [
                        {
                            "step": reading.step,
                            "density": reading.density,
                            "certified": reading.certified,
                            "en": reading.en,
                        }
                        for reading in check.readings
                    ],
                }
                for check in found
            ]
        )
    else:
        _print(check_lines(found, site.time_zone))
    leave(Exit.LOOK if found and not found[-1].passed else Exit.OK)


@click.command("doubt")
@click.argument("meter", default="")
@click.option("--recall", is_flag=True, help="Take the approved ones among them back to held.")
@click.option("--by", default="", metavar="NAME", help="Who answers for the recall.")
@site_option
@json_option
def list_doubts(meter: str, recall: bool, by: str, as_json: bool) -> None:
    """List the jobs that a failed check of their meter puts in doubt.

    Exit status: 0 none, 1 some are in doubt, 2 could not run.
    """
    from gatekeeper.care.meter_watch import standing_doubts
    from gatekeeper.clock import SystemClock
    from gatekeeper.errors import UsageError
    from gatekeeper.room import read_book
    from gatekeeper.show.meters import doubt_lines
    from gatekeeper.wording import fold

    site = the_site()
    register = read_book(site).register
    found = [
        doubt
        for doubt in standing_doubts(site, register, SystemClock())
        if not meter or fold(doubt.meter) == fold(meter)
    ]
    if recall and not by.strip():
        raise UsageError("a recall needs a name", do="add --by NAME")
    if as_json:
        print_json([_as_data(doubt) for doubt in found])
    else:
        _print(doubt_lines(found, site.time_zone))
    if recall:
        _recall(site, found, by)
    leave(Exit.LOOK if found else Exit.OK)


def _as_data(doubt: Doubt) -> dict[str, object]:
    return {
        "meter": doubt.meter,
        "failed": doubt.failed_at.isoformat(),
        "since": doubt.since.isoformat() if doubt.since else None,
        "until": doubt.until.isoformat() if doubt.until else None,
        "jobs": [
            {
                "job": job.job,
                "workflow": job.workflow,
                "measured": job.measured_at.isoformat(),
                "approved": job.approved,
            }
            for job in doubt.jobs
        ],
    }


def _recall(site: Site, found: Sequence[Doubt], by: str) -> None:
    """Lay a slip for each job that stands approved; one that has moved on is said and left."""
    from gatekeeper.errors import UsageError
    from gatekeeper.filing.disk import Disk
    from gatekeeper.filing.folder import VERDICT, sha256_of
    from gatekeeper.screens.lookup import folders_of
    from gatekeeper.shelf_names import CONCESSIONS
    from gatekeeper.slips.conceding import lay_slip
    from gatekeeper.slips.slip import Slip, SlipKind
    from gatekeeper.verdict import Decision

    disk = Disk()
    for doubt in found:
        reason = (
            f"measured with {doubt.meter}, which failed its check on {doubt.failed_at:%Y-%m-%d}"
        )
        for job in doubt.jobs:
            try:
                standing = folders_of(site, job.job, job.workflow)
            except UsageError as error:
                click.echo(f"{job.job}: {error.what}", err=True)
                continue
            for folder, record in standing:
                if record.verdict.decision is not Decision.APPROVED:
                    continue
                digest = sha256_of((folder / VERDICT).read_bytes())
                name, shelf = record.verdict.job, record.verdict.workflow
                slip = Slip(SlipKind.RECALL, name, shelf, digest, by.strip(), reason)
                lay_slip(disk, site.drop / CONCESSIONS, slip, secrets.token_hex(4))
                click.echo(f"{job.job}: a slip for its recall is laid; the gate takes it up")


def _print(lines: Iterable[str]) -> None:
    from gatekeeper.show.screen import words

    terminal = console()
    for line in lines:
        terminal.print(words(terminal, line), no_wrap=True, overflow="ignore", crop=False)
