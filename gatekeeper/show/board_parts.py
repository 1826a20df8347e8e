"""The parts of the board: head, alarms, a held job, and one row each of everything else.

Every part begins with its word (HELD, ALARM, WAITS …), so that a row means the same without its
colour and out of its place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.show.cells import BLANK, Ink, Line, ends, labelled
from gatekeeper.show.large import large
from gatekeeper.show.lines import cut
from gatekeeper.wording import counted, listing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.show.room_facts import Alarm, ApprovedJob, Due, HeldJob, RoomFacts, Waits

_START = 8  # columns of a word that begins a line within a part
_WORD = 13  # columns of sign and word that begin a row
MARGIN = 1  # columns left free at the right


@dataclass(frozen=True, slots=True)
class Shapes:
    """One sign for each kind of row, told apart by outline alone."""

    held: str
    alarm: str
    waits: str
    approved: str
    due: str
    news: str
    dot: str
    between: str


DRAWN = Shapes("■", "▲", "◌", "○", "◆", "►", "█", "·")
LETTERS = Shapes("#", "!", "~", "o", "*", ">", "#", "-")


def head(facts: RoomFacts, width: int) -> list[Line]:
    """Return how many jobs stand where, and whose room it is."""
    approved = "?" if facts.approved_in_all is None else str(facts.approved_in_all)
    left: Line = (
        (f" {facts.stopped_in_all} HELD", Ink.STRONG),
        (f"   {facts.waiting_in_all} waiting   {approved} approved", Ink.TEXT),
    )
    work = "gate at work" if facts.is_at_work else "GATE NOT AT WORK"
    right: Line = (
        (f"{cut(facts.room, max(width - 60, 12))}   ", Ink.SOFT),
        (f"{work} ", Ink.SOFT if facts.is_at_work else Ink.ALARM),
    )
    return [ends(left, right, width)]


def alarm(entry: Alarm, shapes: Shapes, width: int) -> list[Line]:
    """Return an alarm and what mends it."""
    width -= MARGIN
    lines = labelled(
        (f" {shapes.alarm} ALARM", Ink.ALARM), entry.says, Ink.ALARM, width, most=2, start=10
    )
    if entry.do:
        lines += labelled(("   DO", Ink.STRONG), entry.do, Ink.TEXT, width, most=2, start=10)
    return lines


def newest(job: HeldJob, shapes: Shapes, size: tuple[int, int], width: int) -> list[Line]:
    """Return the job that was held last, its number as large as columns and lines allow."""
    letters = large(f"HELD {job.job}", size[0] - 2, size[1], shapes.dot)
    drawn: list[Line] = [((f"  {row}", Ink.HELD),) for row in letters]
    return [*drawn, *([BLANK] if drawn else []), *held(job, shapes, width, bar=Ink.BAR)]


def held(job: HeldJob, shapes: Shapes, width: int, bar: Ink = Ink.HELD) -> list[Line]:
    """Return a held job: which, why, and what to do first with the caution beside it."""
    between = f" {shapes.between} "
    whose = between.join(filter(None, (job.workflow, job.customer)))
    first = ends(
        ((f" {shapes.held} HELD {job.job} ", bar), (f" {whose}", bar)),
        ((f"since {job.since} ", bar),),
        width,
    )
    width -= MARGIN
    further = f" (and {counted(job.further, 'more reason')})" if job.further else ""
    lines = [
        first,
        *labelled(
            ("   WHY", Ink.STRONG), job.why + further, Ink.STRONG, width, most=2, start=_START
        ),
    ]
    if job.was_approved:
        says = "it was approved before: find its plate, mark it and set it aside"
        lines += labelled(("   !!", Ink.ALARM), says, Ink.ALARM, width, most=2, start=_START)
    lines += labelled(("   DO", Ink.STRONG), job.do, Ink.TEXT, width, most=2, start=_START)
    if job.caution:
        says = f"CAUTION: {job.caution}"
        lines += labelled(("   !!", Ink.STRONG), says, Ink.STRONG, width, most=4, start=_START)
    return lines


def older(facts: RoomFacts, shapes: Shapes, width: int) -> list[list[Line]]:
    """Return a part that tells how to see the held jobs beyond the list, if there are any."""
    left = facts.stopped_in_all - len(facts.stopped)
    if left <= 0:
        return []
    says = (
        f"and {counted(left, 'older held job')}: gatekeeper jobs --state held lists them, "
        "gatekeeper why JOB tells of one"
    )
    return [_row((shapes.held, "HELD"), says, width)]


def nothing_held(facts: RoomFacts) -> list[Line]:
    """Return what stands where held jobs would."""
    if facts.is_at_work:
        return [((" Nothing is held.", Ink.STRONG),)]
    return [((" Nothing was held when the gate was last at work.", Ink.TEXT),)]


def waiting(facts: RoomFacts, shapes: Shapes, width: int) -> list[list[Line]]:
    """Return a part for each thing that waits, and for what."""
    jobs = [
        _row((shapes.waits, "WAITS"), f"{job.job}, {job.workflow}: {job.why}", width)
        for job in facts.incomplete
    ]
    listed = [*jobs, *(_waits(entry, shapes, width) for entry in facts.waits)]
    if facts.waits_beyond:
        says = f"and {counted(facts.waits_beyond, 'more file')}: gatekeeper jobs --state waiting"
        listed.append(_row((shapes.waits, "WAITS"), says, width))
    return listed


def _waits(entry: Waits, shapes: Shapes, width: int) -> list[Line]:
    where = "drop" if entry.folder == "." else f"drop/{entry.folder}"
    return _row((shapes.waits, "WAITS"), f"{entry.names}, {where}: {entry.reason}", width)


def approved(facts: RoomFacts, shapes: Shapes, width: int) -> list[list[Line]]:
    """Return a part for each job that was approved lately."""
    return [_approved(job, shapes, width) for job in facts.approved]


def _approved(job: ApprovedJob, shapes: Shapes, width: int) -> list[Line]:
    words = [job.job, job.at, job.workflow, job.customer]
    if job.concession:
        words.insert(1, f"UNDER CONCESSION {job.concession}")
    says = f" {shapes.between} ".join(filter(None, words))
    most = 2 if job.concession else 1
    return _row((shapes.approved, "approved"), says, width, ink=Ink.PASSED, most=most)


def due(entry: Due, shapes: Shapes, width: int) -> list[Line]:
    """Return what runs out, when, and whether that day is over."""
    word, when = ("OVERDUE", "since") if entry.is_over else ("due", "on")
    whose = f" ({listing(entry.workflows, 3)})" if entry.workflows else ""
    says = f"{entry.subject} {when} {entry.day}: {entry.says}{whose}"
    return _row((shapes.due, word), says, width)


def news(says: str, shapes: Shapes, width: int) -> list[Line]:
    """Return what a chart says that somebody should act on."""
    return _row((shapes.news, "DRIFTS"), says, width, most=5)  # what to do stands at the end


def _row(
    sign: tuple[str, str], says: str, width: int, *, ink: Ink = Ink.TEXT, most: int = 3
) -> list[Line]:
    label = " ".join(("", *sign))
    return labelled((label, Ink.STRONG), says, ink, width - MARGIN, most=most, start=_WORD)


def title(text: str) -> Iterator[Line]:
    """Yield the title of a column, with a blank line above."""
    yield BLANK
    yield ((f" {text}", Ink.SOFT),)
