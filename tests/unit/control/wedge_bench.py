"""Wedges as people type them, read by the real readers against a real register and real rules."""

from __future__ import annotations

import hashlib
from datetime import datetime
from zoneinfo import ZoneInfo

from gatekeeper.case import Case, JobSheet
from gatekeeper.control.room_verdict import judge_room_sheet
from gatekeeper.control.wedge import Room, read_wedge
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import Declarations, RawFile
from gatekeeper.register.register import read_register
from gatekeeper.rules.files import built_in_defaults
from gatekeeper.rules.library import Library

ZONE = ZoneInfo("Europe/London")
ARRIVED = datetime(2026, 11, 23, 17, 0, tzinfo=ZONE)

REGISTER = """
meters:
  T-04: {calibrated: 2026-09-01, uncertainty: 0.02, filter: visual}
stocks:
  matte-5mil: {kind: ink film, thickness_mil: 5}
lots:
  M5-0317: {stock: matte-5mil, made: 2026-05-11, opened: 2026-11-02, expires: 2027-05-11}
printers:
  P1: {resolution_dpi: [720, 1440]}
  P2: {resolution_dpi: [720, 1440]}
curves:
  - {workflow: plate, printer: P1, stock: matte-5mil, linearized: 2026-11-10, name: old}
"""
TABLE = [0, 4, 8, 12, 16, 20, 24, 28, 32, 36, 41, 46, 51, 56, 62, 68, 74, 80, 86, 93, 100]
WITH_TABLE = REGISTER.replace("name: old", f"name: old, correction: {TABLE}")
RULES = b"workflow: plate\nreading: negative\nsolid_density: {min: 2.7}\n"

HEAD = {
    "sheet": "wedge",
    "printer": "P1",
    "film lot": "M5-0317",
    "meter": "T-04",
    "operator": "JV",
    "printed": "2026-11-23 16:20",
    "measured": "2026-11-23 16:50",
    "zeroed on": "clear",
    "ruling": "65 lpi",
    "resolution": "1440 dpi",
    "curve": "none",
}
# A printer that prints too full: read + gain * 4 x (1 - x), with a gain of 9 points at 50 %.
STEPS = (5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95)


def tone(sent, gain=9.0):
    """Return the reading of our invented printer."""
    return sent + gain * 4 * (sent / 100) * (1 - sent / 100)


def rows(steps=STEPS, gain=9.0, through=None, **slips):
    """Return tints read with a tenth of a percent; `slips` add points to one, as in tint_50=6."""
    found = ["solid,,2.90,"]
    for step in steps:
        sent = through(step) if through else float(step)
        value = tone(sent, gain) + slips.get(f"tint_{step}", 0.0)
        found.append(f"tint,{step},,{value:.1f}")
    return found


def typed(lines=None, columns="patch,nominal,density,dot", **changes):
    """Return a typed wedge sheet; a change to None leaves its line out."""
    head = HEAD | {name.replace("_", " "): value for name, value in changes.items()}
    text = [f"{name},{value}" for name, value in head.items() if value is not None]
    return "\n".join([*text, "", columns, *(lines or rows())]) + "\n"


def read(text):
    return read_sheet(RawFile("wedge.csv", text.encode()), Declarations(time_zone=ZONE))


def library(rules=RULES):
    always, where_used = built_in_defaults()
    return Library({"workflows/plate.yaml": rules}, always=always, where_used=where_used)


def register(text=REGISTER):
    found, problems = read_register({"register/all.yaml": text.encode()})
    assert problems == ()
    return found


def room(text=REGISTER):
    return Room(library(), register(text), ARRIVED, ZONE)


def wedge(text=None, *, dropped_in="plate", known=REGISTER):
    """Return the wedge of a sheet and its findings."""
    sheet = read(text or typed())
    assert sheet.problems == ()
    return read_wedge(sheet.negatives[0], room(known), dropped_in)


def judged(text, *, dropped_in="plate", known=REGISTER, **changes):
    """Return the verdict on a sheet about the room."""
    sheet = read(text)
    digest = hashlib.sha256(text.encode()).hexdigest()
    case = Case(
        ticket="t1",
        job="a record",
        workflow="",
        sheets=(JobSheet("wedge.csv", digest, "t1", sheet),),
        arrived=ARRIVED,
        time_zone=ZONE,
        dropped_in=dropped_in,
        **changes,
    )
    return judge_room_sheet(case, sheet, library(), register(known)).verdict


def holding(findings):
    """Return the rules that hold, in order."""
    return [finding.rule for finding in findings if finding.do]
