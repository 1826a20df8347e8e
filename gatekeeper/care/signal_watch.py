"""What the control charts show for each job that is judged, at the same cost for every job.

The films of a workflow are read once, and again when the day turns or the register changes, for
then the window of the charts and the segments may be others. From then on each question asks the
history only for what was recorded since the last one, by this gate or by another; the charts go
on from there. Only a film that was measured again lays its printer's readings out anew.

The window is that of the trends: it begins on a midnight, so that a restart sees the same.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from gatekeeper.case import standing
from gatekeeper.control.followed import FollowedSegment
from gatekeeper.control.review import window_start
from gatekeeper.control.series import Quantity, SeriesKey, points_of, print_of
from gatekeeper.control.surroundings import RoomSurroundings
from gatekeeper.control.words import sign_says
from gatekeeper.history import HistoryAwayError, NoHistoryYetError
from gatekeeper.register.made_for import of_negative
from gatekeeper.signals import MID_TONE, Signal, Signals
from gatekeeper.wording import fold

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from datetime import date, datetime, tzinfo

    from gatekeeper.case import Case
    from gatekeeper.clock import Clock
    from gatekeeper.control.series import Point, Setup
    from gatekeeper.history.past import MeasuredFilm
    from gatekeeper.history.query import Lookup
    from gatekeeper.register.register import Register
    from gatekeeper.rules.library import Library
    from gatekeeper.sheet import Negative

FOLLOWED: Mapping[Quantity, str] = {
    Quantity("tint", 50.0): MID_TONE,
    Quantity("solid"): "solid",
    Quantity("clear"): "clear",
}

AWAY = Signals(unknown="the history is away, so nobody knows what the charts show", is_away=True)
NO_PLACE = Signals(unknown="the sheet does not name a printer and a film lot that are known")

MOST_PRINTS = 2_000
"""Prints of a workflow that are kept in memory, the newest: one measured again is almost always
among them. For one that lays readings out anew after more prints than these, all are read again."""

Segment = tuple[str, str, Quantity, "Setup"]


@dataclass(slots=True)
class _Followed:
    """The charts of one workflow."""

    day: date
    register: Register
    sequence: int = 0  # of the newest verdict that was taken in
    prints: dict[tuple[str, ...], list[tuple[Segment, Point]]] = field(default_factory=dict)
    segments: dict[Segment, FollowedSegment] = field(default_factory=dict)
    is_trimmed: bool = False

    def trim(self) -> None:
        """Let go of the oldest prints beyond the most that are kept."""
        while len(self.prints) > MOST_PRINTS:
            del self.prints[next(iter(self.prints))]
            self.is_trimmed = True


class SignalWatch:
    """Follows the charts of a site for the gate.

    Parameters
    ----------
    history : what is asked
    accepted : the moment at which each curve came into use, by its name
    """

    def __init__(
        self, history: Lookup, accepted: Callable[[], Mapping[str, datetime]], clock: Clock
    ) -> None:
        self._history = history
        self._accepted = accepted
        self._clock = clock
        self._workflows: dict[str, _Followed] = {}
        self._room: RoomSurroundings | None = None

    def of(self, case: Case, library: Library, register: Register) -> Mapping[str, Signals]:
        """Return what stands for each film of a job, by its separation; raises nothing."""
        negatives = [negative for _, negative in standing(case.sheets).negatives]
        if not case.workflow or not negatives:
            return {}
        try:
            room = self._room_of(library, register, case.time_zone)
            followed = self._refreshed(case.workflow, room)
        except NoHistoryYetError:
            return {fold(negative.separation_name): Signals() for negative in negatives}
        except HistoryAwayError:
            self._workflows.pop(case.workflow, None)
            return {fold(negative.separation_name): AWAY for negative in negatives}
        return {
            fold(negative.separation_name): _signals(negative, case, room, followed)
            for negative in negatives
        }

    def catch_up(self, library: Library, register: Register, zone: tzinfo) -> None:
        """Take in what was recorded since the last question; raises nothing."""
        room = self._room_of(library, register, zone)
        for workflow in list(self._workflows):
            try:
                self._refreshed(workflow, room)
            except HistoryAwayError:
                self._workflows.pop(workflow)

    def _room_of(self, library: Library, register: Register, zone: tzinfo) -> RoomSurroundings:
        room = self._room
        if room is None or room.register is not register or room.library is not library:
            room = self._room = RoomSurroundings(register, library, zone, self._accepted())
        return room

    def _refreshed(self, workflow: str, room: RoomSurroundings) -> _Followed:
        now = self._clock.now()
        since = window_start(now, room.zone)
        head = self._history.head()
        sequence = head.sequence if head else 0
        known = self._workflows.get(workflow)
        is_good = known and known.day == since.date() and known.register is room.register
        if known is None or not is_good or sequence < known.sequence:
            known = _Followed(since.date(), room.register)
        if sequence > known.sequence:
            if not known.sequence or not all(
                _take_in(film, known, room)
                for film in self._history.films(
                    since=since, workflow=workflow, after=known.sequence
                )
            ):
                known = _Followed(since.date(), room.register)
                for film in self._history.each_film(since=since, workflow=workflow):
                    _take_in(film, known, room)
            known.sequence = sequence
            known.trim()
        self._workflows[workflow] = known
        return known


def _take_in(film: MeasuredFilm, followed: _Followed, room: RoomSurroundings) -> bool:
    """Take in a film; False where more prints than are kept would have to be laid out anew."""
    new = [
        (_segment(key, point.setup), point)
        for key, point in points_of(film, room)
        if key.quantity in FOLLOWED
    ]
    name = print_of(film)
    before = followed.prints.get(name)
    followed.prints[name] = new
    if before == new:
        return True  # told twice
    if before is None and all(_is_next(followed, segment, point) for segment, point in new):
        for segment, point in new:
            followed.segments.setdefault(segment, FollowedSegment()).add(point)
        return True
    if followed.is_trimmed:
        return False
    _lay_out(followed, {segment for segment, _ in (*(before or ()), *new)})
    return True


def _is_next(followed: _Followed, segment: Segment, point: Point) -> bool:
    known = followed.segments.get(segment)
    return known is None or known.newest is None or known.newest.when <= point.when


def _lay_out(followed: _Followed, changed: set[Segment]) -> None:
    """Follow some segments anew: a film was measured again, or came late."""
    found: dict[Segment, list[Point]] = {segment: [] for segment in changed}
    for points in followed.prints.values():
        for segment, point in points:
            if segment in found:
                found[segment].append(point)
    for segment, of_segment in found.items():
        fresh = followed.segments[segment] = FollowedSegment()
        for point in sorted(of_segment, key=lambda entry: entry.when):
            fresh.add(point)


def _segment(key: SeriesKey, setup: Setup) -> Segment:
    return fold(key.printer), fold(key.stock), key.quantity, setup._replace(lot=fold(setup.lot))


def _signals(
    negative: Negative, case: Case, room: RoomSurroundings, followed: _Followed
) -> Signals:
    lot = negative.film_lot.value if negative.film_lot else ""
    stock = room.stock(lot)
    if negative.printer is None or not stock:
        return NO_PLACE
    film = of_negative(negative, case.workflow, stock)
    at = negative.printed or negative.measured
    setup = room.setup(film, lot, at.instant if at else case.arrived)
    return Signals(tuple(_standing(film.printer, stock, setup, case, followed)))


def _standing(
    printer: str, stock: str, setup: Setup, case: Case, followed: _Followed
) -> Iterator[Signal]:
    for quantity, name in FOLLOWED.items():
        key = SeriesKey(case.workflow, printer, stock, quantity)
        segment = followed.segments.get(_segment(key, setup))
        signs = segment.signs() if segment else ()
        if segment and signs:
            yield Signal(name, signs, sign_says(key, segment, signs[0], case.time_zone))
