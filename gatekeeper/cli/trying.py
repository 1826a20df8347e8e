"""`rules try`: edited rules on the history, before they count."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import json_option, print_json, site_option, the_site

if TYPE_CHECKING:
    from gatekeeper.trying.candidates import Candidates
    from gatekeeper.trying.rehearsal import Rehearsal


@click.command("try")
@click.argument(
    "folder", metavar="[EDITED_FOLDER]", required=False, type=click.Path(path_type=Path)
)
@click.option(
    "--since", metavar="WHEN", help="Only jobs filed since a date (2026-11-20) or a span (90d)."
)
@click.option("--workflow", default="", metavar="W", help="Only jobs of this workflow.")
@click.option("--customer", default="", metavar="C", help="Only jobs of this customer.")
@click.option(
    "--suggest",
    default="",
    metavar="RULE",
    help="Show what a limit would have held, by candidate values: solid_density.min, or a section.",
)
@site_option
@json_option
def try_rules(
    folder: Path | None,
    since: str | None,
    workflow: str,
    customer: str,
    suggest: str,
    as_json: bool,
) -> None:
    """Judge the history again under edited rules: which jobs would have changed, by which rule.

    EDITED_FOLDER holds edited copies of the site's files, laid out alike: workflows/, customers/.
    What it leaves out is taken from the site, unless it has a site.yaml of its own; then it is a
    whole site. Nothing is moved or recorded.

    With --suggest, and with or without a folder, a table of limits and the jobs they would have
    held.
    """
    from gatekeeper.cli.spans import since_moment
    from gatekeeper.clock import SystemClock
    from gatekeeper.show.progress import progress
    from gatekeeper.show.rehearsal import (
        candidate_data,
        candidate_lines,
        rehearsal_data,
        rehearsal_lines,
    )
    from gatekeeper.trying.rehearsing import rehearse_folder, suggest_limits

    if not folder and not suggest:
        raise click.UsageError("name a folder of edited rules, or a limit with --suggest")
    site = the_site()
    start = since_moment(since, site, SystemClock().now()) if since else None
    whose = (start, workflow, customer)
    found: Rehearsal | None = None
    if folder:
        with progress("jobs judged again") as told:
            found = rehearse_folder(site, folder, *whose, told=told)
    tables: list[Candidates] = suggest_limits(site, suggest, *whose) if suggest else []
    if as_json:
        data = rehearsal_data(found) if found else {}
        print_json({**data, "suggestions": [candidate_data(table) for table in tables]})
        return
    blocks = [rehearsal_lines(found)] if found else []
    blocks += [candidate_lines(table) for table in tables]
    click.echo("\n\n".join("\n".join(lines) for lines in blocks))
