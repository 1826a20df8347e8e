"""What filing says when it cannot go on: every sentence in one place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

_BY_HAND = "files in a .gatekeeper folder were changed by hand; look there and put them back"


class StateAlarm(RoomError):  # noqa: N818 -- an alarm is what it is called on the board
    """Work lies on the disk that no rule explains: nothing is touched."""


class OfflineError(RoomError):
    """A root folder is away, or another site's: jobs wait, nothing is concluded from absence."""


class SheetFaultError(RoomError):
    """The disk failed while the sheet was read: tried again twice, then held as unreadable."""


class WaitsError(RoomError):
    """Nothing is wrong with the room: the ticket is worked on when something else is done."""


class StillWrittenError(WaitsError):
    """Somebody still writes to a file that was taken: it is looked at again when it is at rest."""


class BehindError(WaitsError):
    """An earlier ticket has the job."""


class LostTicketError(WaitsError):
    """The ticket may be another gate's by now: this one stops and looks again."""


class OvertakenError(RoomError):
    """A later sheet of the same job was filed first: the ticket needs an id behind that one's."""

    def __init__(self, job: str, ticket: str) -> None:
        self.ticket = ticket
        super().__init__(f"a later sheet of job {job!r} was filed first", f"ticket {ticket}")


# -- alarms: nothing is touched ---------------------------------------------------------------


def missing(sheet: str, where: Path) -> StateAlarm:
    """Return the alarm of row 13: what had been taken in is gone."""
    return StateAlarm(f"the sheet {sheet!r} is missing from the work folder", str(where), _BY_HAND)


def unexplained(seen: object, where: Path) -> StateAlarm:
    """Return the alarm of row 14: no row of the table fits."""
    return StateAlarm(f"work is in a state that nothing explains: {seen}", str(where), _BY_HAND)


def left_in_work(names: Iterable[str], where: Path) -> StateAlarm:
    """Return the alarm for files in a claim that is to be thrown away."""
    listed = ", ".join(repr(name) for name in names)
    return StateAlarm(f"files were left in the work folder: {listed}", str(where), _BY_HAND)


def damaged(name: str, where: Path) -> StateAlarm:
    """Return the alarm for a file of ours that is not what it was written as."""
    return StateAlarm(f"{name} in the work folder is damaged", str(where), _BY_HAND)


def without_ticket(where: Path) -> StateAlarm:
    """Return the alarm for work folders without a ticket: a job may lie in them."""
    do = "look there; what it holds is a job's, so put it back by hand"
    return StateAlarm("work without a ticket was found", str(where), do)


def not_a_plain_file(where: Path) -> StateAlarm:
    """Return the alarm for a claimed name that is something else than a file."""
    return StateAlarm("what was taken in is not a plain file", str(where), _BY_HAND)


# -- the room: the ticket waits ---------------------------------------------------------------


def in_two_places(job: str, places: Iterable[Path]) -> RoomError:
    """Return the error for a job that stands under approved and under held."""
    return RoomError(
        f"the job {job!r} stands under approved and under held",
        where=" and ".join(map(str, places)),
        do="move one of the two folders away by hand; the job waits until then",
    )


def not_a_folder(where: Path) -> RoomError:
    """Return the error for a link or file where a folder of jobs or a job folder belongs."""
    return RoomError(
        "a link or a file stands where a folder belongs; links are not followed",
        where=str(where),
        do="move it away; folders on another disk are named in site.yaml, under folders",
    )


def undecided(where: Path) -> RoomError:
    """Return the error for a job that was to be filed without a valid verdict."""
    return RoomError("the job on the bench has no valid verdict", where=str(where))


def taken(target: Path) -> RoomError:
    """Return the error for a target that is somebody else's folder."""
    return RoomError(
        f"{target} is taken by a folder that this gate did not make",
        where=str(target),
        do="move that folder away by hand; the job waits on the bench and its verdict stands",
    )


def away(root: Path, marker: Path, why: str, do: str = "") -> OfflineError:
    """Return the error for a root whose marker cannot be read."""
    return OfflineError(
        f"{root} is away: its marker cannot be read ({why})",
        where=str(marker),
        do=do
        or "mount the share again; for a new or moved folder run `gatekeeper init` on the site",
    )


def foreign(root: Path, marker: Path, found: str, site: str) -> OfflineError:
    """Return the error for a root that carries another site's marker."""
    return OfflineError(
        f"{root} belongs to the site {found!r}, not to {site!r}",
        where=str(marker),
        do="correct `folders` in site.yaml, or mount the right share",
    )


def unmarked() -> OfflineError:
    """Return the error for a site that has no mark of its own."""
    return OfflineError(
        "the site itself has no mark yet: its folders cannot be told from a stranger's",
        do="run `gatekeeper init` on the site; it changes nothing that is there",
    )


def not_ours(ticket: str) -> LostTicketError:
    """Return the error for a ticket that another gate may have taken over."""
    what = "this gate was asleep, or another one has taken its work over"
    return LostTicketError(what, f"ticket {ticket}", "it is looked at again")


def earlier_first(job: str, ticket: str) -> BehindError:
    """Return the error for a sheet whose job is still busy with an earlier one."""
    return BehindError(
        f"job {job!r} waits until its earlier sheet is filed",
        where=f"ticket {ticket}",
        do="mend what keeps the earlier one; this one follows by itself",
    )


def overtaken(job: str, ticket: str) -> OvertakenError:
    """Return the error for a ticket whose job was filed by a later one."""
    return OvertakenError(job, ticket)


def unread(sheet: str, error: OSError) -> SheetFaultError:
    """Return the error for a sheet that the disk did not give."""
    return SheetFaultError(
        f"the sheet {sheet!r} could not be read: {error.strerror}",
        where=str(error.filename or ""),
        do="look at the disk or the share; it is tried three times, then held",
    )


def still_written(sheet: str) -> StillWrittenError:
    """Return the error for an original that keeps changing after it was judged."""
    return StillWrittenError(
        f"the sheet {sheet!r} was judged, and a program still writes to it",
        do="close the file in the program that has it open",
    )
