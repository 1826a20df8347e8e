"""`rules`: check the files, show what is in force, help to write them."""

from __future__ import annotations

from pathlib import Path

import click

from gatekeeper.cli.base import (
    Exit,
    json_option,
    leave,
    print_json,
    site_folder,
    site_option,
    the_site,
)
from gatekeeper.cli.trying import try_rules


@click.group()
@site_option
def rules() -> None:
    """Check, show, compare and try the rules of a site."""


rules.add_command(try_rules)


@rules.command("check")
@site_option
@json_option
def check_rules(as_json: bool) -> None:
    """Check every file of the site; all problems at once, each with its line.

    Limits that are too tight for the room's meters are warned of, on standard error; with --json
    beside the problems.

    Exit status: 0 all good, 1 problems, 2 could not run (there is no site).
    """
    from gatekeeper.checks.capability import tight_limits
    from gatekeeper.room import check_book
    from gatekeeper.rules.waiting import waiting, waiting_later
    from gatekeeper.show.rules import problem_data, problem_lines
    from gatekeeper.wording import counted

    book = check_book(site_folder())
    waits = ("every job",) if book.for_all else waiting(book.library)
    later = () if book.for_all else waiting_later(book.library)
    warnings = () if book.problems else tight_limits(book.library, book.register)
    if as_json:
        print_json(
            {
                "problems": [problem_data(problem) for problem in book.problems],
                "warnings": [problem_data(warning) for warning in warnings],
                "waiting": list(waits),
                "waiting_later": list(later),
            }
        )
        leave(Exit.LOOK if book.problems else Exit.OK)
    if book.problems:
        click.echo("\n".join(problem_lines(book.problems, waits, later)))
    else:
        workflows = counted(len(book.library.workflows), "workflow")
        customers = counted(len(book.library.customers), "customer")
        click.echo(f"all files are good: {workflows}, {customers}")
    for warning in warnings:
        click.echo(f"warning  {warning}\n", err=True)  # no problem: a rule may be as it is
    leave(Exit.LOOK if book.problems else Exit.OK)


@rules.command("show")
@click.option(
    "--workflow", default="", metavar="W", help="The workflow; without it the workflows are listed."
)
@click.option(
    "--customer", default="", metavar="C", help="The customer whose limits are laid over it."
)
@click.option(
    "--as-of",
    "day",
    default="",
    metavar="DAY",
    help="A day such as 2026-11-20: one gone by from the history, one to come from the files.",
)
@site_option
@json_option
def show_rules(workflow: str, customer: str, day: str, as_json: bool) -> None:
    """Show the limits in force for a workflow and customer, each with its origin.

    What changes on a day to come stands below them.
    """
    from gatekeeper.room import read_book, rules_of
    from gatekeeper.rules.coming import coming_changes
    from gatekeeper.show.rules import rule_data, rule_lines

    if day and workflow:
        _show_as_of(day, workflow, customer, as_json=as_json)
        return
    book = read_book(the_site())
    if not workflow:
        customers = sorted(entry.name for entry in book.library.customers.values())
        _list(sorted(book.library.workflows), customers, as_json=as_json)
        return
    effective = rules_of(book, workflow, customer)
    coming = tuple(coming_changes(book.library, effective.workflow, effective.customer))
    if as_json:
        print_json(rule_data(effective, coming))
    else:
        click.echo("\n".join(rule_lines(effective, coming)))


def _show_as_of(day_text: str, workflow: str, customer: str, *, as_json: bool) -> None:
    from gatekeeper.rules.difference import read_record
    from gatekeeper.show.rule_changes import past_data, past_lines
    from gatekeeper.show.rules import rule_data, rule_lines
    from gatekeeper.trying.rulebooks import Wanted, day_of, past_rules, rules_on

    site, day, wanted = the_site(), day_of(day_text), Wanted(workflow, customer)
    rules = rules_on(site, day, wanted)
    if rules:
        lines, data = rule_lines(rules), rule_data(rules)
    else:
        found = past_rules(site, day, wanted)
        lines = past_lines(found, day, site.time_zone)
        data = past_data(found, read_record(found.rules.text))
    if as_json:
        print_json(data)
    else:
        click.echo("\n".join(lines))


@rules.command("diff")
@click.argument("before", metavar="A")
@click.argument("after", metavar="B")
@click.option("--workflow", default="", metavar="W", help="The workflow, where A or B is a day.")
@click.option("--customer", default="", metavar="C", help="The customer, where A or B is a day.")
@site_option
@json_option
def diff_rules(before: str, after: str, workflow: str, customer: str, as_json: bool) -> None:
    """Show which rules differ between A and B.

    Each is a folder, a day, or a fingerprint from a report (8 digits or more). A folder with a
    site.yaml is a whole site; without one its files lie over the site's own, as for `rules try`.

    Exit status: 0 the same rules, 1 they differ, 2 could not run.
    """
    from gatekeeper.rules.difference import difference, matched
    from gatekeeper.show.rule_changes import change_data, change_lines
    from gatekeeper.trying.rulebooks import Wanted, is_whole_site, records_of

    site, wanted = the_site(), Wanted(workflow, customer)
    old, new = records_of(before, site, wanted), records_of(after, site, wanted)
    found = difference(*matched(old, new))
    for folder in (before, after):
        if Path(folder).is_dir() and not is_whole_site(Path(folder)):
            click.echo(f"{folder} has no site.yaml: its files lie over the site's own", err=True)
    if as_json:
        print_json(change_data(found))
    else:
        click.echo("\n".join(change_lines(found)) or "the same rules")
    leave(Exit.LOOK if found else Exit.OK)


def _list(workflows: list[str], customers: list[str], *, as_json: bool) -> None:
    if as_json:
        print_json({"workflows": workflows, "customers": customers})
        return
    click.echo("workflows  " + ", ".join(workflows))
    click.echo("customers  " + ", ".join(customers))
    click.echo("\nshow one with: gatekeeper rules show --workflow W [--customer C]")


@rules.command("explain")
@click.argument("check", default="", metavar="[CHECK]")
@site_option
@json_option
def explain_rules(check: str, as_json: bool) -> None:
    """Explain a check: what it asks, why a plate needs it, its keys with unit and default.

    Without CHECK all of them are listed. CHECK is a section such as solid_density, a rule as
    reports name it, such as solid_density.min, or any other key of the site's files.
    """
    from gatekeeper.explain import page_of, sections
    from gatekeeper.show.rule_pages import list_lines, page_data, page_lines

    if not check:
        pages = [page_of(section) for section in sections()]
        if as_json:
            print_json([page_data(page) for page in pages])
        else:
            click.echo("\n".join(list_lines(pages)))
        return
    page = page_of(check)
    if as_json:
        print_json(page_data(page))
    else:
        click.echo("\n".join(page_lines(page)))


@rules.command("schema")
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path))
@site_option
def write_schema(folder: Path | None) -> None:
    """Write JSON Schemas of the site's files into DIR (schemas/ of the site), for editors.

    Editors that speak to a YAML language server find them by the first line of each example file,
    complete the keys as you type and mark what does not fit. After a new version of gatekeeper,
    write them again.
    """
    from gatekeeper.filing.disk import Disk
    from gatekeeper.schemas import FOLDER, write_schemas

    folder = folder or site_folder() / FOLDER
    for name in write_schemas(folder, Disk()):
        click.echo(folder / name)
