"""A plate room in a temporary folder: what people drop there, and what must be true of it."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import TYPE_CHECKING

from gatekeeper.filing.disk import Disk
from gatekeeper.intake.reading import BROUGHT_DOWN
from gatekeeper.layout import lay_out
from gatekeeper.room import read_book
from gatekeeper.rounds.sweeping import sweep_once
from gatekeeper.site import Site, read_site
from gatekeeper.workshop import history_of, rounds_of

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.history import Wait
    from gatekeeper.history.record import History
    from gatekeeper.rounds.outlook import Outlook

# Readings of our own invention: a sound negative under the rules of the example site.
HEAD = {
    "job": "1041",
    "customer": "Quillmark Cartons",
    "workflow": "liquid-plate",
    "separation": "black",
    "printer": "P1",
    "film lot": "M5-0317",
    "meter": "T-04",
    "operator": "JV",
    "printed": "2026-11-20 09:40",
    "measured": "2026-11-20 10:05",
    "zeroed on": "clear",
    "ruling": "65 lpi",
    "resolution": "1440 dpi",
    "cleaned": "yes",
}
ENVIRONMENT = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}
"""Of the real program: it leaves nothing beside its own files."""

OPENED: list[History] = []
"""The histories of the starts of one test. A killed program closes nothing; a test must."""

START = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
OURS = re.compile(r"(verdict|report)(\.\d+)?\.(json|txt)")
UNFINISHED = re.compile(r"(^tmp-|\.new$|\.done$|\.tmp$|^\.gatekeeper-)")


def is_sheet(name: str) -> bool:
    """Whether a file of this name is one of the sheets that are dropped here."""
    return name.casefold().endswith(".csv")


def sheet(solid: str = "2.90", **changes: str | None) -> bytes:
    """Return a typed sheet; a change to None leaves its line out, `film_lot` is `film lot`."""
    head = HEAD | {name.replace("_", " "): value for name, value in changes.items()}
    rows = ["clear,,0.00,,,left"]
    rows += [f"solid,,{solid},,,{where}" for where in ("left", "centre", "right")]
    rows += ["tint,50,,50.8,,centre"]
    lines = [f"{name},{value}" for name, value in head.items() if value is not None]
    return "\n".join([*lines, "", "patch,nominal,density,dot,length,where", *rows, ""]).encode()


GOOD, WEAK = "2.90", "2.10"
"""A solid that every rule of the example site passes, and one that none does."""


def lay_out_pattern(root: Path) -> Path:
    """Lay out a site as `init` does, to be copied; whoever runs the tests is a lead there."""
    lay_out(root, Disk())
    with (root / "site.yaml").open("a") as file:
        file.write(f'\nleads: ["{os.getuid()}"]\n')
    return root


class ScriptedClock:
    """Moves a second with each look, and half a second for whoever waits."""

    def __init__(self, start: datetime = START) -> None:
        self.time = start
        self.count = 0.0

    def now(self) -> datetime:
        self.time += timedelta(seconds=1)
        return self.time

    def monotonic(self) -> float:
        self.count += 0.5
        return self.count


@cache
def book_of(content: bytes, root: Path):
    """Rules are read once: they are the same in every copy of the pattern."""
    del content
    return read_book(read_site(root))


@dataclass
class PlateRoom:
    """A site, what was dropped there, and a clock that goes on through every restart."""

    site: Site
    pattern: Path
    clock: ScriptedClock = field(default_factory=ScriptedClock)
    dropped: list[bytes] = field(default_factory=list)
    sheets: int = 0

    @classmethod
    def copy_of(cls, pattern: Path, root: Path, **places: Path) -> PlateRoom:
        """Return a room of its own; `places` says which of its folders lie elsewhere."""
        shutil.copytree(pattern, root)
        for name, place in places.items():
            shutil.move(root / name, place)
        if places:
            lines = [f"  {name}: {place}" for name, place in places.items()]
            with (root / "site.yaml").open("a") as file:
                file.write("\n".join(["\nfolders:", *lines, ""]))
        return cls(read_site(root), pattern)

    @classmethod
    def at(cls, root: Path, pattern: Path, clock: ScriptedClock) -> PlateRoom:
        """Return the room that lies in a folder already."""
        return cls(read_site(root), pattern, clock)

    # -- what people do -----------------------------------------------------------------------

    def drop(self, name: str, content: bytes, workflow: str = "liquid-plate") -> Path:
        """Drop a file; `folder/name` makes the folder."""
        path = self.site.drop / workflow / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
        self.dropped.append(content)
        self.sheets += is_sheet(name)
        return path

    # -- what the gate does -------------------------------------------------------------------

    def rounds(self, disk: Disk | None = None, wait: Wait | None = None):
        """Return what a fresh start of the program goes round with."""
        book = book_of((self.site.root / "site.yaml").read_bytes(), self.pattern)
        rounds = rounds_of(
            self.site, self.clock, lambda: book, settle_s=0.0, disk=disk or Disk(), wait=wait
        )
        OPENED.append(rounds.ledger.history)
        return rounds

    def sweep(self, disk: Disk | None = None) -> Outlook:
        """Start the program, sweep, end it."""
        rounds = self.rounds(disk)
        try:
            return sweep_once(rounds)
        finally:
            rounds.ledger.history.close()

    def sweep_anew(self) -> Outlook:
        """Sweep with the rules as they lie in the site's folder now."""
        book = read_book(self.site)
        rounds = rounds_of(self.site, self.clock, lambda: book, settle_s=0.0)
        try:
            return sweep_once(rounds)
        finally:
            rounds.ledger.history.close()

    # -- what is there ------------------------------------------------------------------------

    def job_folders(self) -> dict[tuple[str, str, str], Path]:
        """Return job folders by root, shelf and name."""
        return {
            (root.name, shelf.name, job.name): job
            for root in (self.site.approved, self.site.held)
            for shelf in sorted(root.iterdir())
            if shelf.name != ".gatekeeper"
            for job in sorted(shelf.iterdir())
        }

    def decisions(self) -> dict[str, str]:
        """Return where each job stands, by its folder's name."""
        return {job: root for root, _, job in self.job_folders()}

    def verdict(self, job: str) -> dict:
        """Return the newest verdict of a job."""
        (folder,) = [path for (_, _, name), path in self.job_folders().items() if name == job]
        return json.loads((folder / "verdict.json").read_bytes())

    def says(self, job: str) -> str:
        """Return what holds a job."""
        findings = self.verdict(job)["findings"]
        return "; ".join(f["says"] for f in findings if f["outcome"] in {"hold", "not judged"})

    def require_outcome(self, outcome: dict[str, str]) -> None:
        """Fail unless each job stands where it must.

        Two deaths on one ticket before it was decided: then its third start must not read it, and
        the job that it went to, by the name of the file if need be, must be held.
        """
        unread = [job for job in self.decisions() if BROUGHT_DOWN in self.text_of(job)]
        if not unread:
            assert self.decisions() == outcome
        for job in unread:
            assert BROUGHT_DOWN not in self.says(job) or self.decisions()[job] == "held"

    def text_of(self, job: str) -> str:
        """Return all verdicts of a job as text."""
        folders = [path for (_, _, name), path in self.job_folders().items() if name == job]
        files = (file for folder in folders for file in folder.glob("verdict*.json"))
        return "".join(file.read_text() for file in files)

    def history_tickets(self) -> list[str]:
        """Return the tickets that the history knows, oldest first."""
        with self.history() as history:
            lines = [
                line.ticket
                for job in {line.job for line in history.jobs(limit=None)}
                for line in (past.line for past in history.job(job))
            ]
        return sorted(lines)

    def history(self):
        """Open the history."""
        return history_of(self.site, self.clock)

    # -- what must be true --------------------------------------------------------------------

    def files(self) -> list[Path]:
        """Return every file in the three roots, work folders included."""
        roots = (self.site.drop, self.site.approved, self.site.held)
        return [path for root in roots for path in sorted(root.rglob("*")) if path.is_file()]

    def require_sound(
        self, *, verdicts: int | None = None, other_history: set[str] | None = None
    ) -> None:
        """Fail unless everything that filing promises is true now that nothing is under way.

        Parameters
        ----------
        verdicts : how many were given in all; one for each sheet that was dropped
        other_history : tickets that several gates have told to histories of their own
        """
        _require_each_byte_once(self)
        tickets = []
        for (root, _, name), folder in self.job_folders().items():
            tickets += _require_sound_folder(root, name, folder)
        names = Counter(name for _, _, name in self.job_folders())
        assert all(count == 1 for count in names.values()), f"a job stands twice: {names}"
        assert len(set(tickets)) == len(tickets), "a ticket has two verdicts"
        assert len(tickets) == (self.sheets if verdicts is None else verdicts)
        _require_nothing_left_over(self)
        told = self.history_tickets() if other_history is None else sorted(other_history)
        assert told == sorted(tickets)
        with self.history() as history:
            assert history.verify().broken is None, history.verify()


def _require_each_byte_once(room: PlateRoom) -> None:
    found = Counter(path.read_bytes() for path in room.files() if not OURS.fullmatch(path.name))
    for content, count in Counter(room.dropped).items():
        assert found[content] == count, f"{found[content]} of {count}: {content[:60]!r}"


def _require_sound_folder(root: str, name: str, folder: Path) -> list[str]:
    """Fail unless the folder's verdict is true of it; return the tickets of all its verdicts."""
    verdict = json.loads((folder / "verdict.json").read_bytes())
    assert verdict["decision"] == root, f"{name} says {verdict['decision']} and lies in {root}"
    assert _digest(folder / "report.txt") == verdict["report_sha256"], f"{name}: another report"
    names = {path.name for path in folder.iterdir()}
    sheets = {entry["name"]: entry["sha256"] for entry in verdict["sheets"]}
    for sheet_name, digest in sheets.items():
        found = _digest(folder / sheet_name)
        is_unread = not digest and root == "held"  # its disk would not give its bytes away
        assert found == digest or is_unread, f"{name}: {sheet_name} is not what was judged"
    others = {entry for entry in names if not OURS.fullmatch(entry)} - sheets.keys()
    assert not any(map(is_sheet, others)), f"{name}: not judged: {others}"
    earlier = sorted(
        int(match[1]) for entry in names if (match := re.fullmatch(r"verdict\.(\d+)\.json", entry))
    )
    assert earlier == list(range(1, len(earlier) + 1)), f"{name}: {earlier}"
    tickets = [verdict["ticket"]]
    for number in earlier:
        old = json.loads((folder / f"verdict.{number}.json").read_bytes())
        assert _digest(folder / f"report.{number}.txt") == old["report_sha256"]
        tickets.append(old["ticket"])
    assert tickets[0] == max(tickets), f"{name}: the newest verdict is not the newest ticket's"
    ours = {entry for entry in names if OURS.fullmatch(entry)}
    assert len(ours) == 2 * len(tickets), f"{name}: {ours}"
    return tickets


def _is_of_gates(parts: tuple[str, ...]) -> bool:
    """Whether these are the parts of a gate's own folder, or of a shelf of jobs' locks."""
    return len(parts) == 1 or (parts[0] == "jobs" and len(parts) == 2)


def _require_nothing_left_over(room: PlateRoom) -> None:
    for root in (room.site.drop, room.site.approved, room.site.held):
        for work in root.rglob(".gatekeeper"):
            left = [
                path.relative_to(root)
                for path in work.rglob("*")
                if path.name not in {"site-id", "lease"}
                and path.relative_to(work).parts[0] != "spellings"
                and not (path.is_dir() and _is_of_gates(path.relative_to(work).parts))
            ]
            assert not left, f"left in work: {left}"
    paths = [
        *room.site.state.rglob("*"),
        *(p for r in (room.site.drop, room.site.approved, room.site.held) for p in r.rglob("*")),
    ]
    unfinished = [path for path in paths if UNFINISHED.search(path.name)]
    assert not unfinished, f"temporary names: {unfinished}"
    outbox = room.site.state / "outbox"
    assert not outbox.exists() or not list(outbox.iterdir()), (
        "something was not told to the history"
    )


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
