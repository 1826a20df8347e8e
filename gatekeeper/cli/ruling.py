"""`rules check` and `rules show`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import Exit, json_option, leave, print_json, site_option, the_site

if TYPE_CHECKING:
    from gatekeeper.rules.effective import EffectiveRules
    from gatekeeper.yamlfiles.places import FileProblem


@click.group()
@site_option
def rules() -> None:
    """Check and show the rules of a site."""


@rules.command("check")
@site_option
@json_option
def check_rules(as_json: bool) -> None:
    """Check every rule, register and profile file; all problems at once, each with its line.

    Exit status: 0 all good, 1 problems, 2 could not run (site.yaml itself is wrong).
    """
    from gatekeeper.room import read_book
    from gatekeeper.wording import counted

    book = read_book(the_site())
    if as_json:
        print_json([_problem(problem) for problem in book.problems])
    else:
        for problem in book.problems:
            click.echo(f"{problem}\n")
        if book.problems:
            click.echo(
                f"{counted(len(book.problems), 'problem')}; the jobs that these files govern wait"
            )
        else:
            workflows = counted(len(book.library.workflows), "workflow")
            customers = counted(len(book.library.customers), "customer")
            click.echo(f"all files are good: {workflows}, {customers}")
    leave(Exit.LOOK if book.problems else Exit.OK)


def _problem(problem: FileProblem) -> dict[str, object]:
    return {
        "file": problem.place.file,
        "line": problem.place.line,
        "column": problem.place.column,
        "name": problem.name,
        "what": problem.what,
        "do": problem.do,
    }


@rules.command("show")
@click.option(
    "--workflow", default="", metavar="W", help="The workflow; without it the workflows are listed."
)
@click.option(
    "--customer", default="", metavar="C", help="The customer whose limits are laid over it."
)
@site_option
@json_option
def show_rules(workflow: str, customer: str, as_json: bool) -> None:
    """Show the limits in force for a workflow and customer, each with its origin."""
    from gatekeeper.errors import UsageError
    from gatekeeper.room import read_book
    from gatekeeper.rules.library import UnknownNameError
    from gatekeeper.wording import did_you_mean

    library = read_book(the_site()).library
    if not workflow:
        _list(
            sorted(library.workflows),
            sorted(entry.name for entry in library.customers.values()),
            as_json=as_json,
        )
        return
    try:
        effective = library.effective(workflow, customer)
    except UnknownNameError as error:
        raise UsageError(
            f"no {error.kind} is called {error.name!r}", do=did_you_mean(error.name, error.known)
        ) from error
    if as_json:
        print_json(_as_data(effective))
    else:
        _print(effective)


def _list(workflows: list[str], customers: list[str], *, as_json: bool) -> None:
    if as_json:
        print_json({"workflows": workflows, "customers": customers})
        return
    click.echo("workflows  " + ", ".join(workflows))
    click.echo("customers  " + ", ".join(customers))
    click.echo("\nshow one with: gatekeeper rules show --workflow W [--customer C]")


def _as_data(effective: EffectiveRules) -> dict[str, object]:
    return {
        "workflow": effective.workflow,
        "customer": effective.customer,
        "title": effective.title,
        "reading": effective.reading,
        "dot_from": effective.dot_from,
        "fingerprint": effective.fingerprint,
        "notes": list(effective.notes),
        "limits": [
            {
                "rule": limit.rule,
                "value": limit.value,
                "unit": limit.unit,
                "origin": limit.origin,
                "layer": limit.layer,
            }
            for limit in effective.limits
        ],
    }


def _print(effective: EffectiveRules) -> None:
    who = f"{effective.workflow} ({effective.title})"
    click.echo(who + (f", for {effective.customer}" if effective.customer else ""))
    click.echo(f"a {effective.reading}; dots from: {effective.dot_from}\n")
    for note in effective.notes:
        click.echo(f"NOTE  {note}\n")
    widest = max((len(limit.rule) for limit in effective.limits), default=0)
    values = max((len(str(limit)) for limit in effective.limits), default=0)
    for limit in effective.limits:
        click.echo(
            f"{limit.rule:<{widest}}  {limit!s:<{min(values, 36)}}  {limit.origin} ({limit.layer})"
        )
    click.echo(f"\nfingerprint {effective.fingerprint}")
