"""What must have become of what people dropped, reckoned from what they said and nothing else."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from people import NEVER, USUAL, People, Said
from trail import Given, trail_of

from gatekeeper.filing.tickets import made_at
from gatekeeper.intake.reading import BROUGHT_DOWN
from gatekeeper.slips.slip import Slip, SlipKind

if TYPE_CHECKING:
    from datetime import datetime

UNREAD = (BROUGHT_DOWN, "the disk does not give it", "two sheets of one name")
"""Why a good sheet is held: two deaths over it, a disk that refused it thrice, another beside it.

Of two beside each other the second is judged after all where a fault came between their claims.
"""


USED = "the same file was already used for job"


@dataclass
class InForce:
    """Which limits were in force when; at the end of a period everything that came was filed."""

    limit: float = USUAL
    begins: list[datetime] = field(default_factory=list)
    limits: list[set[float]] = field(default_factory=list)

    def begin(self, moment: datetime, *before: float) -> None:
        """Begin a period; `before` are limits that the program may still go by."""
        self.begins.append(moment)
        self.limits.append({self.limit, *before})

    def edited(self, limit: float) -> None:
        """Note an edit: from now on the other limit may be in force."""
        self.limit = limit
        self.limits[-1].add(limit)

    def at(self, ticket: str) -> set[float]:
        """Return the limits that may have judged a ticket."""
        return self.limits[bisect_right(self.begins, made_at(ticket)) - 1]


@dataclass
class Standing:
    """The newest sheet of each separation of one job, and sheets that nobody can read."""

    newest: dict[str, tuple[str, Said]] = field(default_factory=dict)  # with when it came
    unread: list[str] = field(default_factory=list)

    def take(self, said: Said, came: str) -> None:
        """Take a sheet; one that the room delayed stands behind those that came after it."""
        if said.separation is None:
            self.unread.append(came)
        elif self.newest.get(said.separation, ("",))[0] < came:
            self.newest[said.separation] = came, said

    def passes(self, limit: float) -> bool:
        """Whether every separation is there and passes, and nothing unread stands in the way."""
        sheets = self.newest.values()
        in_the_way = [n for n in self.unread if not sheets or any(at < n for at, _ in sheets)]
        wanted = max((said.separations for _, said in sheets), default=1)
        is_complete = len(self.newest) == wanted
        return is_complete and not in_the_way and all(said.meets >= limit for _, said in sheets)


class Oracle:
    """Holds a room against what was dropped there."""

    def __init__(self, people: People, in_force: InForce) -> None:
        self._people = people
        self._in_force = in_force
        self._room = people.room
        self._strays: set[str] = set()  # filed unread by the name of the file, job unknown
        self.found = Counter()

    def require_all(self) -> None:
        """Fail unless each job stands where its sheets and slips must have brought it."""
        folders = self._room.job_folders().items()
        trails = {(shelf, job): trail_of(place) for (_, shelf, job), place in folders}
        self._strays = {
            given.own
            for (_, job), trail in trails.items()
            for given in trail
            if given.own in self._people.said
            and self._people.said[given.own].job.casefold() != job.casefold()
        }
        by_key = {(shelf, job.casefold()): trail for (shelf, job), trail in trails.items()}
        for (shelf, job), trail in trails.items():
            standing = Standing()
            for given in trail:
                what = f"{shelf}/{job}, {given.ticket}: {given.says}"
                if not given.own:  # its disk would not give its bytes away, so nobody knows which
                    assert given.decision == "held", what
                    self.found["sheets that no disk would give"] += 1
                elif given.own in self._people.slips:
                    slip = self._people.slips[given.own]
                    earlier = by_key.get((slip.workflow, slip.job.casefold()), [])
                    self._require_slip(slip, given, earlier, shelf, what)
                else:
                    self._require_sheet(given, standing, job, what)

    def _require_sheet(self, given: Given, standing: Standing, job: str, what: str) -> None:
        said = self._people.said[given.own]
        is_unread = any(reason in given.says for reason in UNREAD)
        if is_unread:
            said = Said(said.job)
            self.found["good sheets held unread"] += 1
        else:
            assert job.casefold() == said.job.casefold(), what
        if given.own in self._strays and USED in given.says:
            said = replace(said, meets=NEVER)
            self.found["good sheets that had been filed unread elsewhere"] += 1
        standing.take(said, given.came)
        expected = {
            "approved" if standing.passes(limit) else "held"
            for limit in self._in_force.at(given.ticket)
        }
        assert given.decision in expected, what
        assert given.document["concession"] is None, what
        self.found[given.decision] += 1

    def _require_slip(
        self, slip: Slip, given: Given, trail: list[Given], shelf: str, what: str
    ) -> None:
        """Fail unless a slip counted for the verdict that it names, and for that alone."""
        earlier = [other for other in trail if other.ticket < given.ticket]
        wanted = "held" if slip.kind is SlipKind.CONCESSION else "approved"
        counts = bool(slip.reason and earlier) and (
            (earlier[-1].sha256, earlier[-1].decision) == (slip.verdict, wanted)
        )
        # One that the room delayed may find the job judged by a later ticket, and is too late.
        is_late = shelf == "concessions" and bool(trail) and trail[-1].ticket > given.ticket
        counts = counts and not is_late
        assert counts is (shelf != "concessions"), what
        is_released = counts and slip.kind is SlipKind.CONCESSION
        assert given.decision == ("approved" if is_released else "held"), what
        assert (slip.by in (given.document["concession"] or "")) is is_released, what
        self.found[f"{slip.kind.value} {'counts' if counts else 'refused'}"] += 1
