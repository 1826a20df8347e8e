"""`trend`: what the readings of the last weeks say about each printer."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import (
    console,
    json_option,
    print_json,
    room_options,
    site_option,
    the_site,
)
from gatekeeper.cli.known import as_known
from gatekeeper.cli.spans import since_moment

if TYPE_CHECKING:
    from gatekeeper.control.review import Review
    from gatekeeper.site import Site

USUAL_SPAN = timedelta(days=90)


@click.command()
@click.option("--workflow", metavar="W", help="Only this workflow.")
@click.option("--printer", metavar="P", help="Only this printer.")
@click.option(
    "--since",
    metavar="WHEN",
    help="Only what arrived since a date (2026-11-20) or a span (30d); without it 90 days.",
)
@click.option("--all", "everything", is_flag=True, help="Draw every chart, quiet ones too.")
@room_options
@site_option
@json_option
def trend(
    workflow: str | None,
    printer: str | None,
    since: str | None,
    everything: bool,
    rooms: tuple[str, ...],
    all_rooms: bool,
    as_json: bool,
) -> None:
    """Say where each printer drifts, when its limits will be left, and what holds jobs.

    With --room or --all-rooms it looks at those rooms of a shared history. Their film lots are
    judged at once: each room compares a lot with its own others, and what they say is pooled. Of
    other rooms the history knows limits and film lots, not curves and heads: what those move shows
    as a step of the level.

    Exit status: 0, whatever the charts say; 2 could not run.
    """
    from gatekeeper.control.document import review_document
    from gatekeeper.show.trend import print_review

    site = the_site()
    found = _review(site, workflow, printer, since, rooms, all_rooms=all_rooms)
    if as_json:
        print_json(review_document(found))
        return
    print_review(console(), found, site.time_zone, everything=everything)


def _review(
    site: Site,
    workflow: str | None,
    printer: str | None,
    since: str | None,
    rooms: tuple[str, ...],
    *,
    all_rooms: bool,
) -> Review:
    from gatekeeper.clock import SystemClock
    from gatekeeper.control.review import Wanted, empty_review
    from gatekeeper.history import NoHistoryYetError
    from gatekeeper.room import read_book
    from gatekeeper.screens.lookback import review_site, rooms_named

    clock, book = SystemClock(), read_book(site)
    now = clock.now()
    workflow = as_known("workflow", workflow, book.library.workflows)
    printer = as_known("printer", printer, book.register.printers)
    start = now - USUAL_SPAN if since is None else since_moment(since, site, now)
    wanted = Wanted(start, workflow, printer)
    try:
        named = rooms_named(site, clock, rooms, everything=all_rooms)
        return review_site(site, book, wanted, clock, named)
    except NoHistoryYetError:
        return empty_review(wanted, now, site.mark)
