"""`rules try` on pasts and edits drawn at random: it must say what the gate would have said."""

from __future__ import annotations

import hashlib
import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from gatekeeper.case import Case, JobSheet, JobTicket
from gatekeeper.clock import SystemClock
from gatekeeper.filing.disk import Disk
from gatekeeper.history.interface import FiledSheet, FiledVerdict
from gatekeeper.history.replay import Whose
from gatekeeper.judge import judge
from gatekeeper.layout import lay_out
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import RawFile
from gatekeeper.record.sheets_told import readings_of
from gatekeeper.room import YAML_FOLDERS, book_of, declarations_of, read_book
from gatekeeper.rules.files import read_yaml_files
from gatekeeper.site import read_site
from gatekeeper.trying.rehearsal import rehearse
from gatekeeper.verdict import Decision
from gatekeeper.workshop import history_of

if TYPE_CHECKING:
    from pathlib import Path

LIQUID = "workflows/liquid-plate.yaml"
ARRIVED = datetime(2026, 11, 20, 11, 0, tzinfo=UTC)

# Most of a job is sound, so that one limit decides: five faults hold it whatever changes.
SOLIDS = [
    ("2.91", "2.88", "2.90"), ("2.86", "2.88", "2.87"), ("2.71", "2.75", "2.72"),
    ("2.87", "2.73", "2.88"), ("2.695", "2.71", "2.72"), ("3.05", "3.02", "3.11"),
    (">4.0", ">4.0", ">4.0"), ("<2.9", "2.90", "2.91"), ("2.95",), ("2.95", "", "2.96"),
]  # fmt: skip
TINTS = [("", dot) for dot in ("47.9", "48.6", "49.5", "50.9", "51.5", "52.1", "53.2", "")]
TINTS += [("0.30", ""), ("0.31", "50.4"), ("0.29", "50.4")]
HEADS = {
    "customer": ["Quillmark Cartons", "Hollin Soups", ""],
    "film lot": ["M5-0311", "M8-0290", "X-1", ""],
    "meter": ["T-02", "T-9", ""],
    "printer": ["P2", ""],
    "zeroed on": ["air", ""],
    "ruling": ["133 lpi", "15 lpi", "85 lpi", ""],
    "resolution": ["720 dpi", "600 dpi"],
    "cleaned": ["no", ""],
    "printed": ["2026-11-02 08:00", ""],
}
TICKETS = [
    "job: 7", "solid_density: {min: 2.87}", "solid_density: {min: 2.5}", "required: [ruling]",
    "tints: [{nominal: 50, tolerance: 1.4}]", "film: {stocks: [matte-5mil]}",
    "solid_density: {mxi: 1}",
]  # fmt: skip
SELDOM = 0.12

EDITS = [
    ("min: 2.70", ["min: 2.55", "min: 2.72", "min: 2.88"]),
    ("spots: 3", ["spots: 1", "spots: 4"]),
    ("  spread: 0.20", ["  spread: 0.05", "  max: 3.0", "  slope_max: 0.05"]),
    ("tolerance: 2.0", ["tolerance: 1.0", "tolerance: 2.9"]),
    ("tints:\n", [
        "tints:\n  - {nominal: 95, tolerance: 2}\n",
        "decision: {rule: guarded}\ntints:\n",
        "decision: {rule: guarded, guard: 0.5}\ntints:\n",
        "dot: {max_disagreement: 1.0}\ntints:\n",
        "dot: {spread_factor: 1.3}\ntints:\n",
        "dot_from: densities\ntints:\n",
        "dot_from: meter\ntints:\n",
        "inspection: {cleaned: ['yes']}\ntints:\n",
        "density_range: {min: 2.7}\ntints:\n",
        "plausibility: {max_zero_error: 0.01}\ntints:\n",
        "freshness: {max_days_after_printing: 1}\ntints:\n",
    ]),
    ("film lot, meter, operator", ["film lot, operator", "meter, operator, ruling"]),
    ("reading: negative", ["reading: positive"]),
    ("max: 115", ["max: 60", "max: 150"]),
    ("matte-5mil, matte-8mil", ["matte-8mil"]),
]  # fmt: skip


class Room:
    """The example site, whose past is drawn anew for each example."""

    def __init__(self, root: Path) -> None:
        self.site = read_site(root)
        self.book = read_book(self.site)
        self.files = read_yaml_files(root, YAML_FOLDERS)
        self.count = 0

    def edited(self, luck):
        """Return the book under one to three edits of the workflow's file."""
        text = self.files[LIQUID].decode()
        choices = [(old, new) for old, found in EDITS for new in found]
        for old, new in luck.sample(choices, luck.choice([1, 1, 2, 3])):
            text = text.replace(old, new, 1)  # a second edit of one line does nothing
        return book_of(self.site, {**self.files, LIQUID: text.encode()})

    def case(self, number, luck):
        """Return a job that is sound but for the faults that luck gives it."""
        solids = luck.choice(SOLIDS) if luck.random() < 0.5 else SOLIDS[0]
        tint, dot = luck.choice(TINTS) if luck.random() < 0.3 else ("", "50.4")
        ticket = luck.choice(TICKETS) if luck.random() < SELDOM else ""
        head = {
            name: luck.choice(words) for name, words in HEADS.items() if luck.random() < SELDOM / 2
        }
        said = {
            "job": "7", "workflow": "liquid-plate", "customer": "Pennyroyal Preserves",
            "printer": "P1", "film lot": "M5-0317", "meter": "T-04", "operator": "JV",
            "printed": "2026-11-20 09:40", "measured": "2026-11-20 10:05", "zeroed on": "clear",
            "ruling": "65 lpi", "resolution": "1440 dpi", "cleaned": "yes", **head,
        }  # fmt: skip
        rows = ["clear,,0.01,,left", *(f"solid,,{solid},,left" for solid in solids)]
        rows.append(f"tint,50,{tint},{dot},centre")
        lines = [f"{name},{value}" for name, value in said.items() if value]
        content = "\n".join([*lines, "", "patch,nominal,density,dot,where", *rows, ""]).encode()
        sheet = read_sheet(
            RawFile("7.csv", content), declarations_of(self.site, self.book.profiles)
        )
        found = (JobTicket("7.yaml", ticket.encode(), "e" * 64, "7.yaml"),) if ticket else ()
        return Case(
            ticket=f"T{number:05}",
            job="7",
            workflow="liquid-plate",
            sheets=(JobSheet("7.csv", hashlib.sha256(content).hexdigest(), f"T{number}", sheet),),
            arrived=ARRIVED,
            time_zone=self.site.time_zone,
            tickets=found,
        )

    def judged(self, case, book):
        return judge(case, book.library, book.register).verdict

    def past(self, cases, verdicts):
        """Return a history of these verdicts, as the gate would have recorded them."""
        self.count += 1
        url = f"sqlite:///{self.site.root}/past-{self.count}.sqlite"
        settings = self.site.settings.model_copy(update={"history": url})
        history = history_of(replace(self.site, settings=settings), SystemClock())
        history.remember_many(
            FiledVerdict(
                self.site.mark,
                replace(verdicts[case.ticket], job=case.ticket),
                f"held/liquid-plate/{case.ticket}",
                ARRIVED + timedelta(seconds=number),
                (FiledSheet("7.csv", sheet, readings_of(sheet)),),
            )
            for number, case in enumerate(cases)
            for sheet in (case.sheets[0].sheet,)
        )
        return history


@pytest.fixture(scope="module")
def plate_room(tmp_path_factory):
    root = tmp_path_factory.mktemp("random") / "site"
    lay_out(root, Disk())
    return Room(root)


@pytest.mark.parametrize("seed", range(24))
def test_edit_changes_just_the_jobs_that_the_gate_would_judge_otherwise(plate_room, seed):
    luck = random.Random(seed)  # noqa: S311 -- nothing is kept secret
    cases = [plate_room.case(number, luck) for number in range(60)]
    book = plate_room.edited(luck)
    while book.library.doubtful:  # edits that do not go together are refused before they are tried
        book = plate_room.edited(luck)
    before = {case.ticket: plate_room.judged(case, plate_room.book) for case in cases}
    live = {case.ticket: plate_room.judged(case, book) for case in cases}
    texts = {verdict.rules_fingerprint: verdict.rules_text for verdict in before.values()}
    with plate_room.past(cases, before) as history, history.replay(Whose()) as past:
        found = rehearse(past, book, texts.__getitem__, plate_room.site.time_zone)
    told = {entry.job.job: entry.after for entry in found.changed}
    expected = {
        ticket: verdict.decision
        for ticket, verdict in live.items()
        if verdict.decision is not before[ticket].decision
    }
    assert told == expected
    assert found.jobs == len(cases)
    held = [verdict for verdict in live.values() if verdict.decision is Decision.HELD]
    assert found.after.part == len(held)
