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
from tests.bench.past_jobs import sheet

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.rounds.round import Rounds

WORKFLOW = "liquid-plate"
START = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)


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
        solids = (f"{density + self.chance.gauss(0, 0.02):.2f}" for _ in range(3))
        return sheet(job, *solids, dot=f"{tint:.1f}")

    def rounds(self, disk: Disk | None = None) -> Rounds:
        """Return what a fresh start of the program goes round with."""
        book = read_book(self.site)
        clock = SteadyClock()
        return rounds_of(self.site, clock, lambda: book, settle_s=0.0, disk=disk or Disk())
