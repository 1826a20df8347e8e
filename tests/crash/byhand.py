"""Lays the pieces of a ticket out by hand, in any state that a kill or a hand can leave them in."""

from __future__ import annotations

import json
import os
import shutil
from typing import TYPE_CHECKING

from disks import RecordingDisk
from plate_room import GOOD, PlateRoom, sheet

if TYPE_CHECKING:
    from pathlib import Path


class Pieces:
    """A job that was filed once; its pieces are taken apart and laid out anew.

    The history is emptied, so that a recovery has to tell it of the job.
    """

    def __init__(self, room: PlateRoom, content: bytes = sheet(GOOD)) -> None:
        self.room = room
        self.content = content
        log = []
        room.drop("1041.csv", content)
        room.sweep(RecordingDisk(log))
        written = {change.paths[0].name: change for change in log if change.kind == "flushed"}
        self.ticket_json = written["ticket.json"].content
        self.job_json = written["job.json.new"].content
        self.ticket = json.loads(self.ticket_json)["id"]
        gate = room.site.gate
        self.drop = room.site.drop / "liquid-plate"
        self.claim = self.drop / ".gatekeeper" / gate / self.ticket
        self.bench = room.site.held / ".gatekeeper" / gate / self.ticket
        self.landing = room.site.approved / ".gatekeeper" / gate / self.ticket
        self.filed = room.site.approved / "liquid-plate" / "1041"
        self.aside = room.site.root / "aside"
        self.filed.rename(self.aside)
        for file in room.site.state.glob("history.sqlite*"):
            file.unlink()

    def lay_claim(self, where: str, *, attempts: int = 0, note: bool = False) -> None:
        """Lay the claim; `where` the sheet is: drop, in, both, two or gone."""
        (self.claim / "in").mkdir(parents=True)
        in_drop, in_claim = self.drop / "1041.csv", self.claim / "in" / "1041.csv"
        if where in {"drop", "both", "two"}:
            in_drop.write_bytes(self.content)
        if where == "both":
            os.link(in_drop, in_claim)
        elif where in {"in", "two"}:
            in_claim.write_bytes(self.content)
        self.lay_ticket(in_drop if in_drop.exists() else in_claim)
        for number in range(attempts):
            (self.claim / f"attempt.{number + 1}").touch()
        if note:
            (self.claim / "job.json").write_bytes(self.job_json)

    def lay_ticket(self, file: Path) -> None:
        """Write the ticket with the identity of the file as it lies there."""
        ticket = json.loads(self.ticket_json)
        if file.exists():
            found = file.stat()
            ticket["sheet"] |= {"inode": found.st_ino, "mtime_ns": found.st_mtime_ns}
        (self.claim / "ticket.json").write_text(json.dumps(ticket))

    def lay_bench(self, *names: str) -> Path:
        """Lay the bench with these files of the job folder; all of them when none is named."""
        job = self.bench / "job"
        job.mkdir(parents=True)
        for path in self.aside.iterdir():
            if not names or path.name in names:
                shutil.copy2(path, job)
        return job

    def lay_empty_bench(self) -> Path:
        job = self.bench / "job"
        job.mkdir(parents=True)
        return job

    def lay_filed(self) -> None:
        """Let the job folder stand where it was filed."""
        shutil.copytree(self.aside, self.filed)

    def recover(self):
        """Put the spare parts away and start the program again."""
        shutil.rmtree(self.aside)
        return self.room.sweep()
