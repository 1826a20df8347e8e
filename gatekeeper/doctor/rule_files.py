"""Whether rules and register are in order, and what runs out soon."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.doctor.interface import Answer, broken, look, ok
from gatekeeper.screens.dues import expiries, worth_saying
from gatekeeper.wording import counted, listing, plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.doctor.interface import Ward


def rules(ward: Ward) -> Iterator[Answer]:
    """Look at every file of the administrator."""
    book = ward.book
    for problem in book.problems:
        says = f"{problem.place} {problem.what}"
        if problem.begins:
            in_time = "do so before that day: until then its jobs are judged, then they wait"
            yield look("rules", says, f"{problem.do}; {in_time}")
        else:
            yield broken("rules", says, problem.do)
    workflows, customers = book.library.workflows, book.library.customers
    if not workflows:
        says = "no workflow is defined: every job is held"
        yield look("rules", says, "add a file to workflows/")
    elif not book.problems:
        known = f"{counted(len(workflows), 'workflow')}, {counted(len(customers), 'customer')}"
        yield ok("rules", f"{known}, all files good")


def register(ward: Ward) -> Iterator[Answer]:
    """Look at what the room owns; that it is in order is said with the rules."""
    owned = ward.book.register
    counts = (
        (len(owned.meters), "meter"),
        (len(owned.lots), "film lot"),
        (len(owned.printers), "printer"),
        (len(owned.curves), "curve"),
    )
    yield ok("register", ", ".join(counted(number, noun) for number, noun in counts))


def dues(ward: Ward) -> Iterator[Answer]:
    """Look at the last days of meters, film lots and curves."""
    today = ward.around.clock.now().astimezone(ward.site.time_zone).date()
    for expiry in worth_saying(expiries(ward.book.register, ward.book.library), today):
        left = (expiry.last_day - today).days
        when = f"in {counted(left, 'day')}" if left > 0 else "today"
        when = f"{counted(-left, 'day')} ago" if left < 0 else when
        says = f"{plain(expiry.subject)}, {expiry.says}: last day {expiry.last_day}, {when}"
        yield look("due", f"{says} ({listing(expiry.workflows, most=3)})", expiry.do)
