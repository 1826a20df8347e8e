"""Rules that a person names: a folder of files, a day, or a fingerprint from a report."""

from __future__ import annotations

import re
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

from gatekeeper.clock import SystemClock
from gatekeeper.errors import UsageError
from gatekeeper.history import NoHistoryYetError
from gatekeeper.room import YAML_FOLDERS, Book, book_of, rules_of, today_at
from gatekeeper.rules.difference import Pair, Record, read_record
from gatekeeper.rules.files import read_yaml_files
from gatekeeper.site import SITE_FILE, Site, read_site
from gatekeeper.wording import fold, quoted
from gatekeeper.workshop import lookup_of
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.history.past import RulesInForce
    from gatekeeper.history.query import Lookup
    from gatekeeper.rules.effective import EffectiveRules

_FINGERPRINT = re.compile(r"[0-9a-f]{8,64}")
_LONGEST_FINGERPRINT = 64


@dataclass(frozen=True, slots=True)
class Wanted:
    """Whose rules a person asks for; a day alone does not say it."""

    workflow: str
    customer: str


def records_of(named: str, site: Site, wanted: Wanted) -> dict[Pair, Record]:
    """Return the rules behind a name: those of all pairs of a folder, or a single record.

    Raises
    ------
    UsageError : it names nothing that is there
    BrokenFilesError : the folder's files are broken
    """
    if Path(named).is_dir():
        return folder_records(edited_book(site, Path(named)))
    if _FINGERPRINT.fullmatch(named):
        record = _by_fingerprint(site, named)
        return {record.pair: record}
    day = day_of(named)
    if not wanted.workflow:
        raise UsageError(
            f"{named} is a day, and on one day each workflow has rules of its own",
            do="add --workflow W, and --customer C where one is meant",
        )
    record = record_on(site, day, wanted)
    return {record.pair: record}


def day_of(text: str) -> date:
    """Return the day that a person wrote.

    Raises
    ------
    UsageError : it is none
    """
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise UsageError(
            f"{quoted(text)} is neither a folder, a fingerprint nor a day",
            do="name a folder, at least 8 digits of a fingerprint, or a day such as 2026-11-20",
        ) from error


def is_whole_site(folder: Path) -> bool:
    """Whether a folder says all by itself, and not only what is edited."""
    return (folder / SITE_FILE).is_file()


def edited_book(site: Site, folder: Path) -> Book:
    """Return the book of edited rules.

    A folder with a site.yaml of its own is a whole site. Without one its files lie over those of
    the site, so that the copy of one file is enough.

    Raises
    ------
    UsageError : it is no folder, or holds no rules
    BrokenFilesError : its files are broken, or do not go together
    """
    if not folder.is_dir():
        raise UsageError(f"{folder} is no folder", do="copy the files to edit into one")
    edited = read_yaml_files(folder, YAML_FOLDERS)
    if is_whole_site(folder):
        book = book_of(read_site(folder), edited)
    elif edited:
        book = book_of(site, {**read_yaml_files(site.root, YAML_FOLDERS), **edited})
    else:
        raise UsageError(
            f"{folder} holds no file of rules",
            do="lay it out like a site: workflows/, customers/, site.yaml",
        )
    if book.for_all or book.library.doubtful:
        raise BrokenFilesError(book.problems)
    return book


def folder_records(book: Book) -> dict[Pair, Record]:
    """Return the rules of every workflow and customer of a book."""
    records = [
        read_record(book.library.effective(workflow, customer).text)
        for workflow, customer in book.library.pairs()
    ]
    return {record.pair: record for record in records}


def rules_on(site: Site, day: date, wanted: Wanted) -> EffectiveRules | None:
    """Return the rules that the files give for today or a day to come; None for a day gone by."""
    if day < today_at(site):
        return None
    book = book_of(site, read_yaml_files(site.root, YAML_FOLDERS), today=day)
    return rules_of(book, wanted.workflow, wanted.customer)


def record_on(site: Site, day: date, wanted: Wanted) -> Record:
    """Return the record of the rules in force on a day, gone by or to come."""
    rules = rules_on(site, day, wanted)
    return read_record(rules.text if rules else past_rules(site, day, wanted).rules.text)


def past_rules(site: Site, day: date, wanted: Wanted) -> RulesInForce:
    """Return the rules that were in force at the end of a day gone by.

    Raises
    ------
    UsageError : the gate had taken up none by then, and no such job was judged
    """
    end = datetime.combine(day, time.max, tzinfo=site.time_zone)
    customer = as_written(site, wanted.customer)
    with past_of(site) as history:
        found = history.rules_at(wanted.workflow, customer, end)
    if found is None:
        whose = f"{quoted(wanted.workflow)}, {quoted(customer) if customer else 'no customer'}"
        raise UsageError(
            f"by {day} no job was judged for {whose}, nor rules taken up: none are on record",
            do="name a later day, or compare with a copy of the rule files",
        )
    return found


def _by_fingerprint(site: Site, start: str) -> Record:
    with past_of(site) as history:
        found = history.rule_sets_beginning(start)
    if len(found) == 1:
        return read_record(found[0].text)
    what = "several rules have" if found else "no job was judged by rules that have"
    raise UsageError(
        f"{what} a fingerprint beginning with {start}",
        do="copy it whole from a report, `rules show` or `jobs --json`",
    )


def as_written(site: Site, customer: str) -> str:
    """Return a customer's name as verdicts carry it, which is that of the customer's file."""
    library = book_of(site, read_yaml_files(site.root, YAML_FOLDERS)).library
    known = library.customers.get(fold(customer))
    return known.name if known else customer


@contextmanager
def past_of(site: Site) -> Iterator[Lookup]:
    """Open the history of a site to look at.

    Raises
    ------
    UsageError : nothing has been judged here yet
    """
    clock = SystemClock()
    with lookup_of(site, clock) as history:
        try:
            yield history
        except NoHistoryYetError as error:
            raise UsageError(
                "no job has been judged here yet, so there is no history to look at",
                do="let the gate judge some jobs first; `rules diff` also compares folders",
            ) from error
