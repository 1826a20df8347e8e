"""The example site judges the example sheets as the table beside them says."""

from __future__ import annotations

import hashlib
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from gatekeeper.case import Case, FilmUse, JobSheet, JobTicket
from gatekeeper.errors import UnreadableSheetError
from gatekeeper.intake.other_jobs import beside_other_jobs
from gatekeeper.judge import Judgement, judge
from gatekeeper.likeness import digits_of
from gatekeeper.readers.choose import looks_like_sheet, read_sheet
from gatekeeper.readers.interface import RawFile
from gatekeeper.room import Book, declarations_of, read_book
from gatekeeper.rules.job_ticket import is_ticket
from gatekeeper.sheet import Problem
from gatekeeper.site import Site, read_site
from gatekeeper.verdict import Outcome
from gatekeeper.yamlfiles.load import load
from gatekeeper.yamlfiles.places import to_plain

ROOT = Path(__file__).parents[2]
CONFIG = ROOT / "config"
EXAMPLES = ROOT / "examples"
SHEETS = EXAMPLES / "sheets"

HOLDING = {Outcome.HOLD, Outcome.NOT_JUDGED}


def read_table() -> dict[str, Any]:
    table = to_plain(load((EXAMPLES / "jobs.yaml").read_bytes(), "examples/jobs.yaml"))
    assert isinstance(table, dict)
    return table


TABLE = read_table()
ENTRIES: list[dict[str, Any]] = [*TABLE["first"], *TABLE["then"]]


class Room:
    """The example site, and the jobs that have come to it so far."""

    def __init__(self) -> None:
        self.site: Site = read_site(CONFIG)
        self.book: Book = read_book(self.site)
        self.declarations = declarations_of(self.site, self.book.profiles)
        self._sheets: dict[tuple[str, str], list[JobSheet]] = {}
        self._files: dict[str, str] = {}  # job by the bytes that it used first
        self._films: dict[str, FilmUse] = {}  # likewise by the digits of a film

    def take(self, entry: dict[str, Any]) -> Judgement:
        """Judge the entry's job over all sheets that it has by now."""
        sheet_file, *companions = entry["files"]
        workflow, name = sheet_file.split("/")
        sheets = self._sheets.setdefault((workflow, entry["job"]), [])
        sheets.append(self._read(workflow, name))
        case = beside_other_jobs(
            Case(
                ticket=f"ticket-{name}",
                job=entry["job"],
                workflow=workflow,
                sheets=tuple(sheets),
                arrived=datetime.fromisoformat(TABLE["clock"]).replace(tzinfo=self.site.time_zone),
                time_zone=self.site.time_zone,
                companions=tuple(companion.split("/")[1] for companion in companions),
                tickets=tuple(self._ticket(file) for file in companions if is_ticket(file)),
                used_for=self._used_for(sheets[-1].sha256, entry["job"]),
            ),
            self._job_of_digits,
        )
        for digits in (digits_of(negative).sha256 for negative in sheets[-1].negatives):
            self._films.setdefault(digits, FilmUse(entry["job"], case.ticket))
        return judge(case, self.book.library, self.book.register)

    def _used_for(self, sha256: str, job: str) -> str:
        first = self._files.setdefault(sha256, job)
        return "" if first == job else first

    def _job_of_digits(self, digits: str, *, ticket: str, other_than: str) -> FilmUse:
        """As the history answers: the first job to use a film's readings owns them."""
        assert ticket
        first = self._films.get(digits, FilmUse())
        return FilmUse() if first.job == other_than else first

    def _ticket(self, file: str) -> JobTicket:
        content = (SHEETS / file).read_bytes()
        return JobTicket(file.split("/")[1], content, hashlib.sha256(content).hexdigest())

    def _read(self, workflow: str, name: str) -> JobSheet:
        content = (SHEETS / workflow / name).read_bytes()
        sheet, trouble = None, None
        try:
            sheet = read_sheet(RawFile(name, content), self.declarations)
        except UnreadableSheetError as error:
            trouble = Problem(error.what, error.do)
        digest = hashlib.sha256(content).hexdigest()
        return JobSheet(name, digest, f"ticket-{name}", sheet, trouble, dropped_as=name)


@cache
def judgements() -> tuple[Judgement, ...]:
    room = Room()
    return tuple(room.take(entry) for entry in ENTRIES)


@pytest.mark.parametrize("index", range(len(ENTRIES)), ids=[entry["files"][0] for entry in ENTRIES])
def test_job_gets_the_decision_and_the_reason_that_the_table_states(index):
    entry, verdict = ENTRIES[index], judgements()[index].verdict
    holding = {finding.rule for finding in verdict.findings if finding.outcome in HOLDING}
    expected = {*([entry["held_by"]] if "held_by" in entry else []), *entry.get("also", [])}
    said = "\n".join(
        f"  {finding.outcome}: {finding.rule}: {finding.says}"
        for finding in verdict.findings
        if finding.outcome is not Outcome.PASS
    )
    assert (verdict.decision.value, holding) == (entry["decision"], expected), (
        f"{entry['files'][0]} is there to show: {entry['shows']}\n"
        f"the table says {entry['decision']} by {sorted(expected)},\n"
        f"the gate says {verdict.decision} by {sorted(holding)}:\n{said}"
    )


@pytest.mark.parametrize("index", range(len(ENTRIES)), ids=[entry["files"][0] for entry in ENTRIES])
def test_sheet_itself_names_the_job_that_the_table_names(index):
    entry = ENTRIES[index]
    named = {
        negative.job.value
        for measured in judgements()[index].measured
        if (negative := measured.negative).job
    }
    assert named <= {entry["job"]}


def test_each_format_is_read_as_what_it_is():
    read_as = {judged.verdict.job: judged.verdict.sheets[-1].read_as for judged in judgements()}
    assert read_as["1041"] == "typed sheet (CSV)"
    assert read_as["1072"] == "typed sheet (semicolons)"
    assert read_as["1074"] == "profile bench-meter"
    assert read_as["2014"] == "CGATS.17 text (CGATS.17)"


def test_held_entries_name_a_rule_and_approved_ones_do_not():
    for entry in ENTRIES:
        assert (entry["decision"] == "held") == ("held_by" in entry), entry["files"][0]


def test_every_example_file_is_dropped_once_and_every_dropped_file_exists():
    dropped = [file for entry in ENTRIES for file in entry["files"]]
    present = {path.relative_to(SHEETS).as_posix() for path in SHEETS.rglob("*") if path.is_file()}
    assert len(dropped) == len(set(dropped))
    assert set(dropped) == present


def test_companions_are_not_taken_for_sheets():
    declarations = Room().declarations
    for entry in ENTRIES:
        sheet, *companions = entry["files"]
        assert looks_like_sheet(sheet, (SHEETS / sheet).read_bytes(), declarations)
        for companion in companions:
            assert not looks_like_sheet(companion, (SHEETS / companion).read_bytes(), declarations)
            assert Path(companion).stem == Path(sheet).stem


def test_no_two_examples_hold_the_same_bytes_but_the_one_that_shows_it():
    copied = [entry["files"][0] for entry in ENTRIES if entry.get("held_by") == "sheet.own"]
    digests = {path: hashlib.sha256(path.read_bytes()).hexdigest() for path in SHEETS.rglob("*.*")}
    assert len(set(digests.values())) == len(digests) - len(copied) == len(digests) - 1


def test_files_of_the_example_site_have_no_problem():
    assert [str(problem) for problem in Room().book.problems] == []


def test_every_workflow_and_customer_of_the_example_site_has_a_job():
    judged = [judgement.verdict for judgement in judgements()]
    library = Room().book.library
    assert {verdict.workflow for verdict in judged} == set(library.workflows)
    known = {customer.name for customer in library.customers.values()}
    assert known <= {verdict.customer for verdict in judged}


def test_clock_of_the_table_is_not_before_any_sheet_but_the_one_from_the_future():
    zone = ZoneInfo(Room().site.settings.time_zone)
    clock = datetime.fromisoformat(TABLE["clock"]).replace(tzinfo=zone)
    late = {
        judgement.verdict.job
        for judgement in judgements()
        for measured in judgement.measured
        for moment in (measured.negative.printed, measured.negative.measured)
        if moment and moment.instant > clock
    }
    assert late == {"1063"}


def test_walk_through_names_every_sheet_and_shows_the_first_as_it_is():
    guide = (EXAMPLES / "README.md").read_text(encoding="utf-8")
    assert [entry["files"][0] for entry in ENTRIES if f"`{entry['files'][0]}`" not in guide] == []
    first = (SHEETS / "liquid-plate/1041.csv").read_text(encoding="utf-8")
    shown = "".join(f"    {line}\n" if line else "\n" for line in first.splitlines())
    assert shown in guide


UNSHOWN = {
    "exposure.max_leak_per_mille",  # the site's own solid density holds before it does
    "exposure.min_window_stops",  # rests on the plate's data alone, whatever the sheet says
}


def kind_of(rule: str) -> str:
    """Return the rule; for a line or tint that is asked for, that one is asked for."""
    section = rule.partition(".")[0]
    return section if section in {"required", "tints"} else rule


def test_every_kind_of_limit_that_the_week_meets_holds_a_job_of_it():
    met = {f.rule for judged in judgements() for f in judged.verdict.findings if f.origin}
    named = [[entry.get("held_by", ""), *entry.get("also", [])] for entry in ENTRIES]
    held = {kind_of(rule) for rules in named for rule in rules}
    assert {kind_of(rule) for rule in met} - held == UNSHOWN
