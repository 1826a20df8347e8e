"""What people drop, in phases: each phase is dropped when the one before has been filed."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from plate_room import GOOD, WEAK, PlateRoom, sheet
from trail import digest

from gatekeeper.slips.slip import Slip, SlipKind

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass(frozen=True)
class Scenario:
    """Drops, and where each job must stand when nothing is under way any more."""

    name: str
    phases: tuple[Callable[[PlateRoom], object], ...]
    outcome: dict[str, str]
    elsewhere: tuple[str, ...] = ()  # roots that lie on another filesystem

    def room(self, rooms, elsewhere) -> PlateRoom:
        """Return a fresh room for it."""
        folder = Path(tempfile.mkdtemp(dir=elsewhere))
        return rooms(**{name: folder / name for name in self.elsewhere})


def _new_job(room: PlateRoom) -> None:
    room.drop("1041.csv", sheet(GOOD))
    room.drop("1041.pdf", b"the artwork of 1041")
    room.drop("1041.tif", b"the bitmap of 1041" * 1000)


def _weak_job(room: PlateRoom) -> None:
    room.drop("1041.csv", sheet(WEAK, operator="first"))
    room.drop("1041.pdf", b"the artwork of 1041")


def _measured_again(room: PlateRoom) -> None:
    room.drop("1041.csv", sheet(GOOD, operator="second"))
    room.drop("1041.pdf", b"the artwork of 1041, corrected")


def _weak_later(room: PlateRoom) -> None:
    room.drop("late.csv", sheet(WEAK, operator="third"))


def _black_and_cyan(room: PlateRoom) -> None:
    room.drop("1041-k.csv", sheet(GOOD, separations="2"))
    room.drop("1041-c.csv", sheet(GOOD, separation="cyan", separations="2"))


def _one_folder(room: PlateRoom) -> None:
    room.drop("1041/k.csv", sheet(GOOD, separations="2"))
    room.drop("1041/c.csv", sheet(GOOD, separation="cyan", separations="2"))
    room.drop("1041/k.tif", b"the bitmap of black")
    room.drop("1041/notes.txt.orig", b"what belongs to no sheet")


def _two_of_one_name(room: PlateRoom) -> None:
    room.drop("1041.csv", sheet(GOOD))
    room.drop("1041.CSV", sheet(GOOD, operator="second"))
    room.drop("1041.pdf", b"the artwork of 1041")


def _one_spelling(room: PlateRoom) -> None:
    room.drop("one.csv", sheet(WEAK, job="QC-7"))


def _another_spelling(room: PlateRoom) -> None:
    room.drop("two.csv", sheet(GOOD, job="qc-7", operator="second"))


def _late_companion(room: PlateRoom) -> None:
    room.drop("1041.svg", b"artwork that came late")


def _loose_ticket(room: PlateRoom) -> None:
    room.drop("1041.csv", sheet(GOOD, operator="first"))
    room.drop("1041.yaml", b"solid_density: {min: 2.0}")


def _tight_ticket(room: PlateRoom) -> None:
    room.drop("1041.csv", sheet(GOOD, operator="second"))
    room.drop("1041.yaml", b"solid_density: {min: 2.89}")


def _slip(room: PlateRoom, kind: SlipKind) -> None:
    (folder,) = room.job_folders().values()
    read = digest((folder / "verdict.json").read_bytes())
    slip = Slip(kind, "1041", "liquid-plate", read, "Ada Lead", "agreed with the customer")
    room.drop(f"{kind.value}.csv", slip.to_bytes(), "concessions")


def _released(room: PlateRoom) -> None:
    _slip(room, SlipKind.CONCESSION)


def _recalled(room: PlateRoom) -> None:
    _slip(room, SlipKind.RECALL)


def _three_abreast(room: PlateRoom) -> None:
    room.drop("1041.csv", sheet(GOOD))
    room.drop("1041.pdf", b"the artwork of 1041")
    room.drop("1042.csv", sheet(WEAK, job="1042"))
    room.drop("1043.csv", sheet(GOOD, job="1043", operator="third"))


def _two_of_one_job_abreast(room: PlateRoom) -> None:
    room.drop("1-one.csv", sheet(WEAK, job="QC-7"))
    room.drop("2-two.csv", sheet(GOOD, job="qc-7", operator="second"))
    room.drop("3-three.csv", sheet(GOOD, job="1043", operator="third"))


ACROSS = ("approved",)
DROP_ACROSS = ("drop",)
LEADS_WORD = (_weak_job, _released, _recalled, _released)
REMEASURED = (_weak_job, _measured_again)
THREE = {"1041": "approved", "1042": "held", "1043": "approved"}
THROWN_BACK = (_new_job, _weak_later)

SCENARIOS = (
    Scenario("a new job with companions", (_new_job,), {"1041": "approved"}),
    Scenario("a held job measured again", REMEASURED, {"1041": "approved"}),
    Scenario("an approved job that fails a later sheet", THROWN_BACK, {"1041": "held"}),
    Scenario("two separations", (_black_and_cyan,), {"1041": "approved"}),
    Scenario("a dropped folder with two sheets", (_one_folder,), {"1041": "approved"}),
    Scenario("two spellings of one job", (_one_spelling, _another_spelling), {"QC-7": "approved"}),
    Scenario("three jobs abreast", (_three_abreast,), THREE),
    Scenario("three jobs abreast, approved elsewhere", (_three_abreast,), THREE, ACROSS),
    Scenario(
        "two of one job abreast",
        (_two_of_one_job_abreast,),
        {"QC-7": "approved", "1043": "approved"},
    ),
    Scenario("a companion that comes late", (_weak_job, _late_companion), {"1041": "held"}),
    Scenario("a job ticket corrected", (_loose_ticket, _tight_ticket), {"1041": "approved"}),
    Scenario(
        "a job ticket corrected, dropped elsewhere",
        (_loose_ticket, _tight_ticket),
        {"1041": "approved"},
        DROP_ACROSS,
    ),
    Scenario("approved elsewhere", REMEASURED, {"1041": "approved"}, ACROSS),
    Scenario("thrown back from elsewhere", THROWN_BACK, {"1041": "held"}, ACROSS),
    Scenario("dropped elsewhere", REMEASURED, {"1041": "approved"}, DROP_ACROSS),
    Scenario(
        "a late companion from elsewhere",
        (_weak_job, _late_companion),
        {"1041": "held"},
        DROP_ACROSS,
    ),
    Scenario("two sheets of one name", (_two_of_one_name,), {"1041": "held"}),
    Scenario("a lead's slips", LEADS_WORD, {"1041": "approved"}),
    Scenario("a lead's slips, approved elsewhere", LEADS_WORD, {"1041": "approved"}, ACROSS),
)
