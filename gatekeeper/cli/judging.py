"""`check` and `why`: a verdict without consequences, and the reason for one that had them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import Exit, console, json_option, leave, print_json, site_option, the_site
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from gatekeeper.judge import Judgement
    from gatekeeper.site import Site


@click.command()
@click.argument(
    "files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option(
    "--workflow", default="", metavar="W", help="Workflow, where neither sheet nor folder says."
)
@click.option("--explain", is_flag=True, help="Show how each file was read, value by value.")
@site_option
@json_option
def check(files: tuple[Path, ...], workflow: str, explain: bool, as_json: bool) -> None:
    """Judge sheets without moving or recording anything; sheets of one job are judged together.

    A job ticket that lies beside a sheet, such as 1041.yaml beside 1041.csv, is laid over the
    rules.

    Exit status: 0 approved, 1 held, 2 could not run.
    """
    from gatekeeper.trying.trial import try_files

    site = the_site()
    if explain:
        _explain(site, files)
    judgements = try_files(site, files, workflow)
    if as_json:
        _print_documents(judgements)
    else:
        _print_reports(judgements)
    approved = all(entry.verdict.decision.value == "approved" for entry in judgements)
    leave(Exit.OK if approved else Exit.LOOK)


def _explain(site: Site, files: tuple[Path, ...]) -> None:
    """Say on standard error how the files were read, so that --json stays JSON."""
    from gatekeeper.show.explain import explanation
    from gatekeeper.trying.trial import read_files

    for sheet in read_files(site, files):
        if sheet.sheet:
            lines = explanation(sheet.name, sheet.sheet)
        else:
            reason = sheet.unreadable.says if sheet.unreadable else ""
            lines = [f"{plain(sheet.name)}: not read: {plain(reason, 300)}"]
        click.echo("\n".join([*lines, ""]), err=True)


def _print_documents(judgements: list[Judgement]) -> None:
    from gatekeeper.verdict_document import to_document

    documents = [to_document(entry.verdict) for entry in judgements]
    print_json(documents[0] if len(documents) == 1 else documents)


def _print_reports(judgements: list[Judgement]) -> None:
    from gatekeeper.show.why import print_report

    terminal = console()
    for entry in judgements:
        print_report(terminal, entry.verdict, title=entry.title)


@click.command()
@click.argument("job", metavar="JOB")
@click.option("--workflow", default="", metavar="W", help="Only in this workflow.")
@site_option
@json_option
def why(job: str, workflow: str, as_json: bool) -> None:
    """Say why a job is held or approved, in full, and what to do next."""
    from gatekeeper.room import read_book
    from gatekeeper.rules.job_ticket import CAME_LATE
    from gatekeeper.screens.lookup import earlier_verdicts, find_job, late_tickets
    from gatekeeper.show.why import print_report
    from gatekeeper.verdict_document import to_document

    site = the_site()
    found = find_job(site, job, workflow)
    if as_json:
        documents = [
            to_document(record.verdict, report_sha256=record.report_sha256) for record in found
        ]
        print_json(documents[0] if len(documents) == 1 else documents)
        return
    workflows = read_book(site).library.workflows
    terminal = console()
    for record in found:
        known = workflows.get(record.verdict.workflow)
        print_report(
            terminal,
            record.verdict,
            title=known.title if known else "",
            earlier=earlier_verdicts(site, record.verdict),
        )
        for name in late_tickets(site, record.verdict):
            click.echo(f"\njob ticket {plain(name)} {CAME_LATE}")
