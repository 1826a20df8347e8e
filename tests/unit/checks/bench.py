"""A sheet of readings on the bench of an invented plate room: what the tests of checks begin with.

Rules and registers are written as administrators write them, sheets as operators do, and all of
them are read by the real readers.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from datetime import datetime, timedelta, timezone

from gatekeeper.case import Case, JobSheet
from gatekeeper.errors import UnreadableSheetError
from gatekeeper.judge import judge
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import Declarations, RawFile
from gatekeeper.register.register import read_register
from gatekeeper.rules.files import built_in_defaults
from gatekeeper.rules.library import Library
from gatekeeper.sheet import Problem
from gatekeeper.verdict import Outcome

ZONE = timezone(timedelta(hours=1))
ARRIVED = datetime(2026, 11, 20, 10, 7, tzinfo=ZONE)

REGISTER = """
meters:
  T-04: {calibrated: 2026-09-01, filter: visual}
stocks:
  matte-5mil: {kind: ink film, thickness_mil: 5}
lots:
  M5-0317: {stock: matte-5mil, made: 2026-05-11, opened: 2026-11-02, expires: 2027-05-11}
printers:
  P1: {resolution_dpi: [720, 1440]}
curves:
  - {workflow: plate, printer: P1, stock: matte-5mil, linearized: 2026-11-10}
"""
HEAD = {
    "job": "7",
    "printer": "P1",
    "film lot": "M5-0317",
    "meter": "T-04",
    "operator": "JV",
    "printed": "2026-11-20 09:40",
    "measured": "2026-11-20 10:05",
    "zeroed on": "clear",
    "ruling": "65 lpi",
    "resolution": "1440 dpi",
}
SOUND = ("clear,,0.00", "solid,,2.91", "solid,,2.88", "solid,,2.90", "tint,50,,50.8")


def typed(rows=SOUND, columns="patch,nominal,density,dot", **changes):
    """Return a typed sheet; a change to None leaves its line out, `film_lot` is `film lot`."""
    head = HEAD | {name.replace("_", " "): value for name, value in changes.items()}
    lines = [f"{name},{value}" for name, value in head.items() if value is not None]
    return "\n".join([*lines, "", columns, *rows]) + "\n"


def job_sheet(text, name="7.csv", ticket="1", **changes):
    """Return a sheet as it is read, or why it cannot be."""
    content = text if isinstance(text, bytes) else text.encode()
    sheet, trouble = None, None
    try:
        sheet = read_sheet(RawFile(name, content), Declarations(time_zone=ZONE))
    except UnreadableSheetError as error:
        trouble = Problem(error.what, error.do)
    digest = hashlib.sha256(content).hexdigest()
    return replace(JobSheet(name, digest, ticket, sheet, trouble, dropped_as=name), **changes)


def library(rules, customers=(), floors=None):
    """Return the rules of one workflow, `plate`, and of customers."""
    always, where_used = built_in_defaults()
    head = "" if "reading:" in rules else "reading: negative\n"
    files = {"workflows/plate.yaml": f"workflow: plate\n{head}{rules}\n".encode()}
    for number, customer in enumerate(customers):
        files[f"customers/{number}.yaml"] = customer.encode()
    found = Library(files, always=always, where_used=where_used, floors=floors)
    assert [str(problem) for problem in found.all_problems] == []
    return found


def register(text=REGISTER):
    found, problems = read_register({"register/all.yaml": text.encode()} if text else {})
    assert problems == ()
    return found


def judged(*sheets, rules="", customers=(), in_register=REGISTER, **of_case):
    """Return the verdict over sheets given as text, bytes or `JobSheet`, oldest first."""
    found = tuple(
        sheet if isinstance(sheet, JobSheet) else job_sheet(sheet, f"{number}.csv", str(number))
        for number, sheet in enumerate(sheets, start=1)
    )
    case = Case(
        **{
            "ticket": str(len(found)),
            "job": "7",
            "workflow": "plate",
            "sheets": found,
            "arrived": ARRIVED,
            "time_zone": ZONE,
        }
        | of_case
    )
    return judge(case, library(rules, customers), register(in_register)).verdict


def findings(verdict, rule):
    return [finding for finding in verdict.findings if finding.rule == rule]


def only(verdict, rule):
    """Return the one finding of a rule."""
    (finding,) = findings(verdict, rule)
    return finding


def holding(verdict):
    """Return the rules that hold the job, each once, in the order of the report."""
    bad = (Outcome.HOLD, Outcome.NOT_JUDGED)
    return list(dict.fromkeys(found.rule for found in verdict.findings if found.outcome in bad))
