"""`rules try` on pasts and edits drawn at random: it must say what the gate would have said."""

from __future__ import annotations

import hashlib
import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, NamedTuple

import pytest

from gatekeeper.case import Case, JobSheet, JobTicket, SameReadings
from gatekeeper.clock import SystemClock
from gatekeeper.filing.disk import Disk
from gatekeeper.history.interface import FiledSheet, FiledVerdict
from gatekeeper.history.replay import Whose
from gatekeeper.judge import judge
from gatekeeper.layout import lay_out
from gatekeeper.likeness import digits_of
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import RawFile
from gatekeeper.record.sheets_told import readings_of
from gatekeeper.room import YAML_FOLDERS, book_of, declarations_of
from gatekeeper.rules.files import read_yaml_files
from gatekeeper.signals import Signal, Signals
from gatekeeper.site import SITE_FILE, read_site, site_of
from gatekeeper.trying.rehearsal import rehearse
from gatekeeper.verdict import Decision
from gatekeeper.wording import fold
from gatekeeper.workshop import history_of

if TYPE_CHECKING:
    from pathlib import Path

LIQUID = "workflows/liquid-plate.yaml"
QUILLMARK, PENNYROYAL = "customers/quillmark.yaml", "customers/pennyroyal.yaml"
METERS, FILMS = "register/meters.yaml", "register/films.yaml"
CURVES, PRINTERS = "register/curves.yaml", "register/printers.yaml"
UNKNOWN = "Hollin Soups"

# Most of a job is sound, so that one limit decides: five faults hold it whatever changes.
SOLIDS = [
    ("2.91", "2.88", "2.90"), ("2.86", "2.88", "2.87"), ("2.71", "2.75", "2.72"),
    ("2.87", "2.725", "2.88"), ("2.695", "2.71", "2.72"), ("3.05", "3.02", "3.11"),
    (">4.0", ">4.0", ">4.0"), ("<2.9", "2.90", "2.91"), ("2.95",), ("2.95", "", "2.96"),
]  # fmt: skip
TINTS = [("", dot) for dot in ("47.9", "48.6", "49.5", "50.9", "51.5", "52.1", "53.2", "")]
TINTS += [("0.30", ""), ("0.31", "50.4"), ("0.29", "50.4")]
SOUND = {
    "workflow": "liquid-plate", "customer": "Pennyroyal Preserves", "printer": "P1",
    "film lot": "M5-0317", "meter": "T-04", "operator": "JV", "printed": "2026-11-20 09:40",
    "measured": "2026-11-20 10:05", "zeroed on": "clear", "ruling": "65 lpi",
    "resolution": "1440 dpi", "cleaned": "yes",
}  # fmt: skip
HEADS = {
    "customer": ["Quillmark Cartons", UNKNOWN, ""],
    "film lot": ["M5-0311", "M8-0288", "M5-0211", "X-1", ""],
    "meter": ["T-02", "T-09", "T-07", "T-07", "T-9", "t-04", ""],
    "printer": ["P2", "P7", ""],
    "zeroed on": ["air", ""],
    "ruling": ["133 lpi", "15 lpi", "85 lpi", ""],
    "resolution": ["720 dpi", "600 dpi"],
    "cleaned": ["no", ""],
    "printed": ["2026-11-02 08:00", "2026-11-20", ""],
    "measured": ["2026-11-20", "2026-11-21 08:00", ""],
    "filter": ["UV", "blue"],
    "film made": ["2025-01-07"],
    "linearized": ["2026-11-19"],
    "curve": ["spring", "autumn"],
    "repeat": ["609.6 mm"],
    "emulsion": ["up", "down"],
}
TICKETS = [
    "job: 7", "solid_density: {min: 2.87}", "solid_density: {min: 2.5}", "required: [ruling]",
    "tints: [{nominal: 50, tolerance: 1.4}]", "film: {stocks: [matte-5mil]}",
    "solid_density: {mxi: 1}",
]  # fmt: skip
SELDOM = 0.12
ARRIVALS = [
    datetime(2026, 11, 20, 11, tzinfo=UTC), datetime(2026, 11, 20, 23, 30, tzinfo=UTC),
    datetime(2027, 2, 20, 9, tzinfo=UTC),
]  # fmt: skip


class Edit(NamedTuple):
    """A change of one file: a piece of it becomes another, or a whole section goes."""

    file: str
    old: str
    new: str = ""

    def of(self, text):
        """Return the file's text after it; as it was, where another edit was there before."""
        if self.new or self.old not in text.splitlines():
            return text.replace(self.old, self.new, 1)
        lines = iter(text.splitlines(keepends=True))
        kept, is_inside = [], False
        for line in lines:
            is_inside = line.startswith(self.old) or (is_inside and line[0] in " #\n")
            kept += [] if is_inside else [line]
        return "".join(kept)


def also(file, first, *added):
    """Return edits that each add something in front of a line."""
    return [Edit(file, first, f"{line}\n{first}") for line in added]


NUMBERS = [
    *(Edit(LIQUID, "min: 2.70", f"min: {limit}") for limit in (2.55, 2.72, 2.88)),
    *(Edit(LIQUID, "spots: 3", f"spots: {limit}") for limit in (1, 4)),
    Edit(LIQUID, "  spread: 0.20", "  spread: 0.05"),
    *(Edit(LIQUID, "tolerance: 2.0", f"tolerance: {limit}") for limit in (1.0, 2.9)),
    *(Edit(LIQUID, "max: 115", f"max: {limit}") for limit in (60, 150)),
    Edit(LIQUID, "max_open_days: 90", "max_open_days: 10"),
    Edit(QUILLMARK, "min: 2.85", "min: 2.60"),
    Edit(LIQUID, "max_age_days: 30 ", "max_age_days: 9 "),
]
NEW = [
    *also(LIQUID, "  spread: 0.20", "  max: 3.0", "  slope_max: 0.05"),
    Edit(LIQUID, "tints:\n", "tints:\n  - {nominal: 95, tolerance: 2}\n"),
    *also(
        LIQUID, "tints:",
        "dot: {max_disagreement: 1.0}", "dot: {spread_factor: 1.3}", "dot_from: densities",
        "dot_from: meter", "inspection: {cleaned: ['yes']}", "inspection: {emulsion: [down]}",
        "density_range: {min: 2.7}", "plausibility: {max_zero_error: 0.01}",
        "plausibility: {same_readings_days: 3}", "freshness: {max_days_after_printing: 1}",
        "freshness: {clock_tolerance_minutes: 2000}", "remeasuring: {sign_off_after: 1}",
        "remeasuring: {sign_off_after: 2}", "control: {hold_on: [mid-tone]}",
        "size: {tolerance_mm: 0.5}", "size: {register_mm: 0.2}", "tone_scale: {min_rise: 0.5}",
        "exposure: {floor_dose_mj_cm2: 12, main_exposure_mj_cm2: 1800, min_margin_stops: 1.9}",
    ),
    Edit(LIQUID, "film lot, meter, operator", "meter, operator, ruling"),
    Edit(LIQUID, "min_margin_stops: 2.3", "min_margin_stops: 1.0"),
]  # fmt: skip
OTHERS = [
    Edit(LIQUID, "film lot, meter, operator", "film lot, operator"),
    Edit(LIQUID, "reading: negative", "reading: positive"),
    Edit(LIQUID, "matte-5mil, matte-8mil", "matte-8mil"),
    Edit(LIQUID, "filters: [visual, UV]", "filters: [UV]"),
    Edit(LIQUID, "resolution_dpi: [720, 1440]", "resolution_dpi: [720]"),
    *(Edit(LIQUID, f"{name}:") for name in ("tints", "film", "linearization", "meter", "screen")),
    Edit(LIQUID, "clear_density:"),
    Edit(LIQUID, "workflow: liquid-plate ", "workflow: liquid-plates "),
    *also(
        LIQUID, "tints:",
        "changes: [{effective_from: 2026-01-01, solid_density: {min: 2.88}}]",
        "changes: [{effective_from: 2199-01-01, solid_density: {min: 2.88}}]",
    ),
    Edit(QUILLMARK, "customer: Quillmark Cartons", "customer: Quillmark"),
    Edit(PENNYROYAL, "customer: Pennyroyal Preserves", f"customer: {UNKNOWN}"),
    Edit("customers/hollin.yaml", "", f"customer: {UNKNOWN}\n"),
    Edit("customers/hollin.yaml", "", f"customer: {UNKNOWN}\nall_workflows: {{required: [note]}}"),
    Edit(SITE_FILE, "floors:\n", "floors:\n  density_range: {min: 2.75}\n"),
    Edit(SITE_FILE, "floors:\n", "floors:\n  inspection: {cleaned: ['yes']}\n"),
]  # fmt: skip
DOUBT = also(LIQUID, "tints:", "decision: {rule: guarded}", "decision: {rule: guarded, guard: 0.5}")
REGISTER = [
    Edit(FILMS, "opened: 2026-11-02", "opened: 2026-07-02"),
    Edit(FILMS, "M5-0317: {stock: matte-5mil", "M5-0317: {stock: clear-5mil"),
    Edit(FILMS, "M5-0317: {stock: matte-5mil", "M5-0317: {stock: matte-8mil"),
    Edit(FILMS, "  M5-0317:", "  M5-0318:"),
    Edit(FILMS, "  M5-0317:", "  X-1: {stock: matte-5mil, made: 2026-05-11}\n  M5-0317:"),
    Edit(FILMS, "lots:"),
    Edit(FILMS, "thickness_mil: 5}", "thickness_mil: 6}"),
    Edit(METERS, "calibrated: 2026-09-01", "calibrated: 2025-09-01"),
    Edit(METERS, "calibrated: 2026-09-01", "calibrated: 2026-11-20"),
    Edit(METERS, "filter: visual,\n", "filter: blue,\n"),
    Edit(METERS, "uncertainty: 0.02, filter: visual,\n", "uncertainty: 0.09, filter: visual,\n"),
    Edit(METERS, "uncertainty: 0.02, filter: visual,\n", "filter: visual,\n"),
    Edit(METERS, "  T-04:", "  T-40:"),
    Edit(METERS, "  T-06:", "  T-9: {calibrated: 2026-10-12}\n  T-06:"),
    Edit(METERS, "meters:"),
    Edit(PRINTERS, "P1: {resolution_dpi: [360, 720, 1440]", "P1: {resolution_dpi: [360, 720]"),
    Edit(PRINTERS, "  P2:", "  P7: {}\n  P2:"),
    Edit(PRINTERS, "printers:"),
    Edit(CURVES, "linearized: 2026-11-10}", "linearized: 2026-11-21}"),
    Edit(CURVES, "linearized: 2026-11-10}", "linearized: 2026-11-10, name: spring}"),
    Edit(CURVES, "linearized: 2026-11-10}", "linearized: 2026-11-10, ruling_lpi: 85}"),
    Edit(CURVES, "curves:"),
]  # fmt: skip
KINDS = [NUMBERS, NEW, OTHERS, DOUBT, REGISTER]

WIDE = Edit(LIQUID, "tolerance: 2.0", "tolerance: 2.9")
EXPOSED = "exposure: {floor_dose_mj_cm2: 12, main_exposure_mj_cm2: 1800, min_margin_stops: %s}"
BASES = {
    "plain": [],
    "guarded": [DOUBT[0], WIDE],
    "exposed": also(LIQUID, "tints:", EXPOSED % 2.3),
}
"""The edits that make the rules by which a past was judged."""

TOGETHER = [
    [Edit(LIQUID, "max_open_days: 90", "max_open_days: 10"), REGISTER[0]],
    [Edit(LIQUID, "max_open_days: 90", "max_open_days: 400"), REGISTER[0]],
    [Edit(LIQUID, "max_age_days: 30 ", "max_age_days: 9 "), REGISTER[10]],
    [Edit(LIQUID, "max: 115", "max: 60"), REGISTER[15]],
    [Edit(LIQUID, "  spread: 0.20", "  max: 3.0\n  spread: 0.20"), REGISTER[0]],
]
"""Edits of limits with one of the register that their numbers rest on, or do not."""


class Room:
    """The example site, whose past is drawn anew for each example."""

    def __init__(self, root: Path) -> None:
        self.site = read_site(root)
        self.files = read_yaml_files(root, YAML_FOLDERS)
        self.files[SITE_FILE] = (root / SITE_FILE).read_bytes()
        self.declarations = declarations_of(self.site, self.book(self.files).profiles)
        self.bases = {name: self.with_edits(edits) for name, edits in BASES.items()}
        self.count = 0

    def with_edits(self, edits, files=None):
        found = dict(files or self.files)
        for edit in edits:
            found[edit.file] = edit.of(found.get(edit.file, b"").decode()).encode()
        return found

    def book(self, files):
        return book_of(site_of(self.site.root, files[SITE_FILE]), without_site(files))

    def edited(self, files, luck, most):
        """Return the files under so many edits at most, such that they go together."""
        for _ in range(40):
            count = luck.randint(1, most)
            found = self.with_edits([luck.choice(luck.choice(KINDS)) for _ in range(count)], files)
            book = self.book(found)
            if not (book.library.doubtful or book.for_all or found == files):
                return found
        raise AssertionError(files)

    def case(self, number, luck):
        """Return a job that is sound but for the faults that luck gives it."""
        ticket = luck.choice(TICKETS) if luck.random() < SELDOM else ""
        head = {
            name: luck.choice(words) for name, words in HEADS.items() if luck.random() < SELDOM / 3
        }
        names = luck.choice([[""]] * 4 + [["black"], ["black", "cyan"], ["black", "black"]])
        is_split = luck.random() < 0.5
        blocks = [self.block(head, name, luck) for name in names]
        contents = blocks if is_split else ["\n".join(blocks)]
        again = luck.choice([0] * 6 + [1, 2])
        contents += [self.block(head, names[0], luck) for _ in range(again)]
        sheets = tuple(self.sheet(number, place, text) for place, text in enumerate(contents))
        found = (JobTicket("7.yaml", ticket.encode(), "e" * 64, "7.yaml"),) if ticket else ()
        is_known = head.get("customer") != UNKNOWN
        negatives = [negative for sheet in sheets for negative in sheet.sheet.negatives]
        return Case(
            ticket=f"T{number:05}",
            job="7",
            workflow="liquid-plate",
            sheets=sheets,
            arrived=luck.choice(ARRIVALS),
            time_zone=self.site.time_zone,
            tickets=found,
            # What nobody looked for, since no rules judged the job, is not in its record.
            same_readings=tuple(self.alike(negatives, luck)) if is_known else (),
            signals={fold(name): self.signals(luck, is_known=is_known) for name in names},
        )

    def block(self, head, separation, luck):
        solids = luck.choice(SOLIDS) if luck.random() < 0.4 else SOLIDS[0]
        tint, dot = luck.choice(TINTS) if luck.random() < 0.3 else ("", "50.4")
        printed = {"printed": "2026-11-20 08:00"} if luck.random() < SELDOM else {}
        said = {"job": "7", "separation": separation, **SOUND, **printed, **head}
        rows = [f"clear,,{luck.choice(['0.01', '0.00', '0.03'])},,,left"]
        rows += [
            f"solid,,{solid},,,{place}"
            for solid, place in zip(solids, ("left", "centre", "right"), strict=False)
        ]
        rows.append(f"tint,50,{tint},{dot},,centre")
        if luck.random() < SELDOM:
            rows.append(f"tint,95,,{luck.choice(['95.1', '91'])},,centre")
        if luck.random() < 2 * SELDOM:
            rows.append(f"length,600,,,{luck.choice(['600.1', '600.9', '599.2'])},across")
        lines = [f"{name},{value}" for name, value in said.items() if value]
        return "\n".join([*lines, "", "patch,nominal,density,dot,length,where", *rows, ""])

    def sheet(self, number, place, text):
        content = text.encode()
        sheet = read_sheet(RawFile("7.csv", content), self.declarations)
        sha256 = hashlib.sha256(content).hexdigest()
        return JobSheet(f"7-{place}.csv", sha256, f"T{number:05}-{place}", sheet)

    def alike(self, negatives, luck):
        for negative in negatives:
            if luck.random() < SELDOM / 4:
                yield SameReadings(digits_of(negative).sha256, "another", luck.choice([2.0, 9.0]))

    def signals(self, luck, *, is_known):
        stands = is_known and luck.random() < SELDOM
        return Signals((Signal("mid-tone", ("level",), "it has moved"),) if stands else ())

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
                ARRIVALS[-1] + timedelta(seconds=number),
                tuple(
                    FiledSheet(sheet.name, sheet.sheet, readings_of(sheet.sheet))
                    for sheet in case.sheets
                ),
            )
            for number, case in enumerate(cases)
        )
        return history


def without_site(files):
    return {name: content for name, content in files.items() if name != SITE_FILE}


@pytest.fixture(scope="module")
def plate_room(tmp_path_factory):
    root = tmp_path_factory.mktemp("random") / "site"
    lay_out(root, Disk())
    return Room(root)


class Past(NamedTuple):
    """Jobs, the rules and the register that they were judged by, and the record of it."""

    own: object
    cases: list
    before: dict
    history: object

    @classmethod
    def of(cls, room, cases, files):
        own = room.book(files)
        before = {case.ticket: room.judged(case, own) for case in cases}
        return cls(own, cases, before, room.past(cases, before))

    def compare_with_the_gate(self, room, book):
        """Hold what is told of an edit beside what the gate says of each job."""
        live = {case.ticket: room.judged(case, book) for case in self.cases}
        texts = {verdict.rules_fingerprint: verdict.rules_text for verdict in self.before.values()}
        with self.history.replay(Whose()) as past:
            zone, register = room.site.time_zone, self.own.register
            found = rehearse(past, book, texts.__getitem__, zone, register=register)
        told = {entry.job.job: entry.after for entry in found.changed}
        expected = {
            ticket: verdict.decision
            for ticket, verdict in live.items()
            if verdict.decision is not self.before[ticket].decision
        }
        assert told == expected
        assert found.jobs == len(self.cases)
        held = [verdict for verdict in live.values() if verdict.decision is Decision.HELD]
        assert found.after.part == len(held)


@pytest.mark.parametrize("seed", range(20))
def test_edits_change_just_the_jobs_that_the_gate_would_judge_otherwise(plate_room, seed):
    luck = random.Random(seed)  # noqa: S311 -- nothing is kept secret
    cases = [plate_room.case(number, luck) for number in range(60)]
    files = plate_room.files
    files = plate_room.edited(files, luck, 2) if luck.random() < 0.5 else files
    book = plate_room.book(plate_room.edited(files, luck, 3))
    past = Past.of(plate_room, cases, files)
    with past.history:
        past.compare_with_the_gate(plate_room, book)


@pytest.fixture(scope="module", params=list(BASES))
def one_past(request, plate_room):
    luck = random.Random(7)  # noqa: S311 -- nothing is kept secret
    cases = [plate_room.case(number, luck) for number in range(80)]
    files = plate_room.bases[request.param]
    past = Past.of(plate_room, cases, files)
    with past.history:
        yield past, files


@pytest.mark.parametrize("edit", [edit for kind in KINDS for edit in kind], ids=str)
def test_each_edit_by_itself_does(plate_room, one_past, edit):
    past, files = one_past
    book = plate_room.book(plate_room.with_edits([edit], files))
    if not (book.library.doubtful or book.for_all):  # such edits are refused before they are tried
        past.compare_with_the_gate(plate_room, book)


@pytest.mark.parametrize("edits", TOGETHER, ids=str)
def test_edits_of_rules_and_register_together_do(plate_room, one_past, edits):
    past, files = one_past
    past.compare_with_the_gate(plate_room, plate_room.book(plate_room.with_edits(edits, files)))
