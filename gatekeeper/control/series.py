"""One quantity of one printer on one film stock, reading after reading: what a chart follows.

Units    dots in percent, densities ISO 5 log10 units; net densities, over clear film.
Order    by the moment of printing, for it is the printer that is watched; then of arrival.
Rules    a film that was measured again counts once, with its newest readings; the meter's own dot
         is taken where it gave one, else it is computed by Murray-Davies from net densities; of
         the solids the lowest spot counts, of the clear patches the highest, as the checks judge.
Pure     no file, no clock, no database.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from statistics import fmean
from typing import TYPE_CHECKING, Literal, NamedTuple, Protocol

from gatekeeper.measures.density import dot_area
from gatekeeper.measures.errors import MeasureError
from gatekeeper.register.made_for import MadeFor
from gatekeeper.sheet import Bound, PatchKind
from gatekeeper.wording import fold

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from gatekeeper.history.past import MeasuredFilm, PastNegative, PastReading

Polarity = Literal["negative", "positive"]

_MID_TONE = 50.0
_AHEAD = timedelta(days=1)  # what is dated later than this after its arrival is a slip of the pen


class Quantity(NamedTuple):
    """What is followed: the solid, the clear film, or the tint of one nominal (percent)."""

    kind: str
    nominal: float = 0.0

    @property
    def title(self) -> str:
        """Its name in a sentence."""
        if self.kind == PatchKind.TINT:
            return "mid-tone" if self.nominal == _MID_TONE else f"{self.nominal:g} % tint"
        return "solid density" if self.kind == PatchKind.SOLID else "clear film"

    @property
    def unit(self) -> str:
        """The unit of its readings."""
        return "percent" if self.kind == PatchKind.TINT else "density"

    @property
    def short(self) -> str:
        """Its name for programs: tint 50, solid, clear."""
        return f"tint {self.nominal:g}" if self.kind == PatchKind.TINT else self.kind


class SeriesKey(NamedTuple):
    """Which printer, on which film, for which route to a plate."""

    workflow: str
    printer: str
    stock: str
    quantity: Quantity


class Setup(NamedTuple):
    """What the printer worked with; a change of any of it begins a new segment."""

    curve: str  # "2026-11-10", its day, with the setting it is for; empty where none is on record
    lot: str
    head: str  # the day on which the head was changed last, empty where none is on record


@dataclass(frozen=True, slots=True)
class Point:
    """One film's reading."""

    when: datetime
    value: float
    job: str
    setup: Setup
    held: bool  # what became of the job's sheet


@dataclass(frozen=True, slots=True)
class Tolerance:
    """What a reading has to keep; None where the rules ask nothing on that side."""

    lower: float | None = None
    upper: float | None = None

    @property
    def is_set(self) -> bool:
        """Whether there is anything to keep."""
        return self.lower is not None or self.upper is not None


@dataclass(frozen=True, slots=True)
class Series:
    """All readings of one quantity, in the order of printing."""

    key: SeriesKey
    points: tuple[Point, ...]
    tolerance: Tolerance = field(default_factory=Tolerance)


class Surroundings(Protocol):
    """What must be known of the room to sort readings into series."""

    def stock(self, lot: str) -> str:
        """Return the film stock of a lot, empty for a lot that nobody knows."""
        ...

    def polarity(self, workflow: str) -> Polarity | None:
        """Return which area prints, None for a workflow that no rules describe."""
        ...

    def setup(self, film: MadeFor, lot: str, when: datetime) -> Setup:
        """Return what the printer worked with at that moment."""
        ...

    def tolerance(self, workflow: str, quantity: Quantity) -> Tolerance:
        """Return what the rules of the workflow ask of a quantity."""
        ...


def series_of(films: Iterable[MeasuredFilm], room: Surroundings) -> tuple[Series, ...]:
    """Return every series that the films hold, sorted by key.

    Films without a printer, of an unknown lot or workflow belong to none: their place in the room
    is not known. Printers and lots are told apart without their case, and called as first spelt.
    """
    found: dict[SeriesKey, list[Point]] = {}
    spelt: dict[str, str] = {}
    for of_print in _newest(films, room):
        for key, point in of_print:
            printer = spelt.setdefault(fold(key.printer), key.printer)
            lot = spelt.setdefault(fold(point.setup.lot), point.setup.lot)
            of_lot = point if lot == point.setup.lot else _of_lot(point, lot)
            found.setdefault(key._replace(printer=printer), []).append(of_lot)
    return tuple(
        Series(
            key,
            tuple(sorted(points, key=lambda point: point.when)),
            room.tolerance(key.workflow, key.quantity),
        )
        for key, points in sorted(found.items())
    )


def _of_lot(point: Point, lot: str) -> Point:
    return replace(point, setup=point.setup._replace(lot=lot))


def _newest(
    films: Iterable[MeasuredFilm], room: Surroundings
) -> Iterable[list[tuple[SeriesKey, Point]]]:
    """Return the points of each print's last measurement; a reprint is another print.

    Of a film nothing else is kept: weeks of films, with all that was read on them, would take ten
    times as much memory.
    """
    keys: dict[SeriesKey, SeriesKey] = {}  # a few, each of thousands of points; so with setups
    setups: dict[Setup, Setup] = {}
    prints: dict[tuple[str, ...], list[tuple[SeriesKey, Point]]] = {}
    for film in films:
        prints[print_of(film)] = [
            (
                keys.setdefault(key, key),
                replace(point, setup=setups.setdefault(point.setup, point.setup)),
            )
            for key, point in points_of(film, room)
        ]
    return prints.values()


def print_of(film: MeasuredFilm) -> tuple[str, ...]:
    """Return what tells a print from all others: job, separation and moment of printing."""
    negative = film.negative
    printed = _instant(negative.particulars.get("printed"))
    own = str(printed) if printed else negative.ticket
    return film.workflow, film.job, negative.separation, own


def points_of(film: MeasuredFilm, room: Surroundings) -> Iterator[tuple[SeriesKey, Point]]:
    """Yield what a film adds, and to which series."""
    negative = film.negative
    stock, polarity = room.stock(negative.film_lot), room.polarity(film.workflow)
    if not negative.printer or not stock or polarity is None:
        return
    when = printed_at(film)
    setup = room.setup(_made_for(film, stock), negative.film_lot, when)
    held = film.decision.value == "held"
    for quantity, value in quantities(negative, polarity).items():
        key = SeriesKey(film.workflow, negative.printer, stock, quantity)
        yield key, Point(when, value, film.job, setup, held)


def _made_for(film: MeasuredFilm, stock: str) -> MadeFor:
    stated = film.negative.particulars
    resolution, ruling = (_number(stated.get(key)) for key in ("resolution_dpi", "ruling_lpi"))
    return MadeFor(film.workflow, film.negative.printer, stock, resolution, ruling)


def _number(particular: object) -> float | None:
    value = particular.get("value") if isinstance(particular, dict) else None
    return float(value) if isinstance(value, int | float) else None


def printed_at(film: MeasuredFilm) -> datetime:
    """Return when the film was printed, else measured, else arrived; never far after arrival."""
    stated = (_instant(film.negative.particulars.get("printed")), film.negative.measured_at)
    latest = film.arrived_at + _AHEAD
    return next((moment for moment in stated if moment and moment <= latest), film.arrived_at)


def _instant(particular: object) -> datetime | None:
    if isinstance(particular, dict) and isinstance(particular.get("instant"), str):
        return datetime.fromisoformat(particular["instant"])
    return None


def quantities(negative: PastNegative, polarity: Polarity) -> Mapping[Quantity, float]:
    """Return what was read of each quantity; a meter's bound is no reading and counts for none."""
    exact = [entry for entry in negative.readings if entry.bound == Bound.EXACT]
    nets: dict[str, list[float]] = {PatchKind.SOLID: [], PatchKind.CLEAR: []}
    for entry in exact:
        if entry.kind in nets and entry.net_density is not None:
            nets[entry.kind].append(entry.net_density)
    solids, clears = nets[PatchKind.SOLID], nets[PatchKind.CLEAR]
    found: dict[Quantity, float] = {}
    if solids:
        found[Quantity("solid")] = min(solids)
    if clears:
        found[Quantity("clear")] = max(clears)
    dots: dict[float, list[float]] = {}
    solid = fmean(solids) if solids else None
    for entry in exact:
        dot = _dot(entry, solid, polarity)
        if dot is not None and entry.nominal is not None:
            dots.setdefault(entry.nominal, []).append(dot)
    found.update({Quantity("tint", nominal): fmean(read) for nominal, read in dots.items()})
    return found


def _dot(entry: PastReading, solid: float | None, polarity: Polarity) -> float | None:
    if entry.kind != PatchKind.TINT:
        return None
    if entry.dot_read_percent is not None:
        return entry.dot_read_percent
    if entry.net_density is None or solid is None:
        return entry.dot_percent
    try:
        return 100.0 * float(dot_area(entry.net_density, solid, reading=polarity))
    except MeasureError:
        return None  # a solid that is no denser than clear film: the checks have held the job
