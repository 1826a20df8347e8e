"""People who drop anything, and what each thing says: a soak's oracle knows no more than that."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from plate_room import sheet
from trail import digest

from gatekeeper.slips.slip import Slip, SlipKind

if TYPE_CHECKING:
    import random
    from pathlib import Path

    from plate_room import PlateRoom

PLAIN, STRICT = "Pennyroyal Preserves", "Quillmark Cartons"
USUAL, TIGHT = 2.70, 2.85
"""The two limits between which the administrator changes; STRICT asks for TIGHT anyway."""

NEVER = 0.0


@dataclass(frozen=True)
class Said:
    """What a sheet says, to whoever wrote it."""

    job: str
    meets: float = NEVER  # the highest limit of the solid under which it passes
    separation: str | None = None  # None: it cannot be read
    separations: int = 1


@dataclass
class Job:
    """A job as the people at the bench think of it."""

    number: str
    customer: str
    separations: tuple[str, ...]
    sheets: list[bytes] = field(default_factory=list)
    stems: list[str] = field(default_factory=list)

    @property
    def spellings(self) -> tuple[str, str]:
        return self.number, self.number.lower()


@dataclass
class People:
    """They drop whole batches; every name is used once, but for a sheet that is dropped again."""

    room: PlateRoom
    dice: random.Random
    jobs: list[Job] = field(default_factory=list)
    said: dict[str, Said] = field(default_factory=dict)  # by SHA-256
    slips: dict[str, Slip] = field(default_factory=dict)
    orphans: set[str] = field(default_factory=set)  # companions whose job nobody ever measures
    count: int = 0

    def drop_something(self) -> None:
        """Drop one thing: mostly a sheet of a new job, else one of a job that was there before."""
        recent = self.jobs[-40:]
        new = (self.one_sheet, self.one_sheet, self.one_sheet, self.a_folder, self.a_cut_sheet)
        odd = (self.garbage, self.two_of_one_name, self.an_orphan)
        old = (self.again, self.again, self.the_same_again, self.late_artwork, *(self.a_slip,) * 2)
        kinds = [(new, 10), (odd, 1), (old, 7 if recent else 0)]
        (some,) = self.dice.choices([kind for kind, _ in kinds], [weight for _, weight in kinds])
        act = self.dice.choice(some)
        act(self.dice.choice(recent)) if some is old else act()

    # -- of a new job -------------------------------------------------------------------------

    def one_sheet(self) -> None:
        self._measure(self._new_job("black"), "black")

    def a_folder(self) -> None:
        """Drop a folder with a sheet for each separation, and what belongs to them."""
        job = self._new_job("black", "cyan")
        box = self._next("box")
        for separation in job.separations:
            self._measure(job, separation, f"{box}/")
        if self.dice.random() < 0.5:
            self.room.drop(f"{box}/notes.txt.orig", self._artwork("notes"))

    def a_cut_sheet(self) -> None:
        job = self._new_job("black")
        whole = self._sheet(job, "black", "2.90")
        # Behind the separation, half of whose name is another one, and before the last cell.
        cut = whole[: self.dice.randint(whole.index(b"printer"), whole.rindex(b","))]
        self._drop(job, f"{self._next('s')}.csv", cut, Said(job.number, NEVER, "black"))

    # -- odd ----------------------------------------------------------------------------------

    def garbage(self) -> None:
        stem = self._next("odd")
        job = Job(stem, PLAIN, ())
        self._drop(job, f"{stem}.csv", self.dice.randbytes(300), Said(stem))

    def two_of_one_name(self) -> None:
        stem = self._next("twin")
        job = Job(stem, PLAIN, ("black",))
        for ending in ("csv", "CSV"):
            content = self._sheet(job, "black", "2.90")
            self._drop(job, f"{stem}.{ending}", content, Said(stem, TIGHT, "black"))

    def an_orphan(self) -> None:
        name = f"{self._next('orphan')}.pdf"
        self.room.drop(name, self._artwork(name))
        self.orphans.add(name)

    # -- of a job that was there before -------------------------------------------------------

    def again(self, job: Job) -> None:
        """Measure one separation again, under any spelling of the number."""
        self._measure(job, self.dice.choice(job.separations))

    def the_same_again(self, job: Job) -> None:
        content = self.dice.choice(job.sheets)
        self.room.drop(f"{self._next('s')}.csv", content)

    def late_artwork(self, job: Job) -> None:
        stems = job.stems + ([job.number] if self._places(job) else [])
        self.room.drop(f"{self.dice.choice(stems)}.{self._next('v')}", self._artwork("late"))

    def a_slip(self, job: Job) -> None:
        """Hand in a slip for the job as it stands, or one that must be refused."""
        is_held, read = False, "0" * 64
        for place in self._places(job):
            with suppress(FileNotFoundError):  # the gate takes it away in this moment
                read = digest((place / "verdict.json").read_bytes())
                is_held = self.room.site.held in place.parents
        flaw = self.dice.random()
        slip = Slip(
            SlipKind.CONCESSION if is_held != (flaw < 0.1) else SlipKind.RECALL,
            job.number,
            "liquid-plate",
            "0" * 64 if 0.1 < flaw < 0.2 else read,
            self._next("lead "),
            "" if 0.2 < flaw < 0.3 else "agreed with the customer",
        )
        self.room.drop(f"{self._next('slip')}.csv", slip.to_bytes(), "concessions")
        self.slips[digest(slip.to_bytes())] = slip

    # -- how ----------------------------------------------------------------------------------

    def _next(self, word: str) -> str:
        self.count += 1
        return f"{word}{self.count:06}"

    def _places(self, job: Job) -> list[Path]:
        """Return where the job stands, if it does in this moment."""
        shelves = [root / "liquid-plate" for root in (self.room.site.approved, self.room.site.held)]
        places = [shelf / name for shelf in shelves for name in job.spellings]
        return [place for place in places if (place / "verdict.json").exists()]

    def _new_job(self, *separations: str) -> Job:
        letters = self.dice.choice(("", "", "QC-"))
        job = Job(f"{letters}{self._next('')}", self.dice.choice((PLAIN, STRICT)), separations)
        self.jobs.append(job)
        return job

    def _measure(self, job: Job, separation: str, place: str = "") -> None:
        solid = self.dice.choice(("2.10", "2.80", "2.90", "2.90", "2.90"))
        lacks = {} if self.dice.random() < 0.9 else {"meter": None}
        content = self._sheet(job, separation, solid, **lacks)
        meets = {"2.10": NEVER, "2.80": USUAL if job.customer == PLAIN else NEVER, "2.90": TIGHT}
        passes = NEVER if lacks else meets[solid]
        stem = self._next("s")
        said = Said(job.number, passes, separation, len(job.separations))
        workflow = "liquid-plate" if place else self.dice.choice(("liquid-plate",) * 4 + ("",))
        self._drop(job, f"{place}{stem}.csv", content, said, workflow)
        for ending in self.dice.sample(("pdf", "tif"), self.dice.choice((0, 0, 1, 2))):
            self.room.drop(f"{place}{stem}.{ending}", self._artwork(f"{stem} {ending}"), workflow)

    def _sheet(self, job: Job, separation: str, solid: str, **lacks: None) -> bytes:
        spelt = self.dice.choice((job.number, job.number, job.number.lower()))
        content = sheet(
            solid,
            job=spelt,
            customer=job.customer,
            separation=separation,
            separations=str(len(job.separations)),
            operator=self._next("op"),  # no two sheets are the same bytes by chance
            **lacks,
        )
        # Two separations of one job that read alike in every digit would be held for that.
        return content.replace(b"50.8", b"50.4") if separation == "cyan" else content

    def _artwork(self, word: str) -> bytes:
        return f"{word} {self._next('art')} ".encode() * self.dice.choice((1, 10, 2000))

    def _drop(
        self, job: Job, name: str, content: bytes, said: Said, workflow: str = "liquid-plate"
    ) -> None:
        self.said[digest(content)] = said
        job.sheets.append(content)
        job.stems.append(name.rpartition("/")[2].rpartition(".")[0])
        self.room.drop(name, content, workflow)
