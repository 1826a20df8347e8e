"""A plate room with a backlog: the example site, and as many typed sheets as one asks for."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from gatekeeper.filing.disk import Disk
from gatekeeper.layout import lay_out
from gatekeeper.room import read_book
from gatekeeper.site import Site, read_site
from gatekeeper.workshop import rounds_of

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.rounds.round import Rounds

WORKFLOW = "liquid-plate"
START = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)

# Readings of our own invention: sound negatives under the rules of the example site.
_SHEET = """\
job,{job}
customer,Quillmark Cartons
workflow,liquid-plate
separation,black
printer,P1
film lot,M5-0317
meter,T-04
operator,JV
printed,2026-11-20 09:40
measured,2026-11-20 10:05
zeroed on,clear
ruling,65 lpi
resolution,1440 dpi
cleaned,yes

patch,nominal,density,dot,length,where
clear,,0.00,,,left
solid,,{left:.2f},,,left
solid,,{centre:.2f},,,centre
solid,,{right:.2f},,,right
tint,50,,{tint:.1f},,centre
"""


@dataclass
class SteadyClock:
    """A moment a job: figures do not depend on the day on which they are taken."""

    time: datetime = START
    ticks: float = 0.0

    def now(self) -> datetime:
        """Return the next moment."""
        self.time += timedelta(milliseconds=1)
        return self.time

    def monotonic(self) -> float:
        """Return seconds of a clock that never steps."""
        self.ticks += 0.001
        return self.ticks


@dataclass
class PlateRoom:
    """A site as `init` lays it out."""

    site: Site
    chance: random.Random = field(default_factory=lambda: random.Random(20261124))  # noqa: S311
    dropped: int = 0

    @classmethod
    def at(cls, root: Path) -> PlateRoom:
        """Lay out a site in a folder that is not there yet."""
        lay_out(root, Disk())
        return cls(read_site(root))

    def drop(self, count: int) -> None:
        """Drop sheets of so many new jobs."""
        for _ in range(count):
            self.dropped += 1
            name = f"B{self.dropped:07}"
            (self.site.drop / WORKFLOW / f"{name}.csv").write_text(self.sheet(name))

    def sheet(self, job: str) -> str:
        """Return a sound sheet whose readings differ from job to job."""
        density, tint = self.chance.gauss(2.95, 0.03), self.chance.gauss(50.2, 0.5)
        left, centre, right = (density + self.chance.gauss(0, 0.02) for _ in range(3))
        return _SHEET.format(job=job, left=left, centre=centre, right=right, tint=tint)

    def rounds(self, disk: Disk | None = None) -> Rounds:
        """Return what a fresh start of the program goes round with."""
        book = read_book(self.site)
        clock = SteadyClock()
        return rounds_of(self.site, clock, lambda: book, settle_s=0.0, disk=disk or Disk())


class NoFlush(Disk):
    """A disk that flushes nothing: what is left is the price of the gate's own work."""

    def sync(self, folder: Path) -> None:
        """Leave the folder to the system."""

    def sync_file(self, path: Path) -> None:
        """Leave the file to the system."""
