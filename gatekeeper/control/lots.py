"""Film lots by the jobs that they held at the first try, in one room or in several at once.

A lot that goes bad in three rooms is one signal: each room compares it with its own other lots, and
what the rooms say is pooled. A room where much is held for reasons of its own blames no lot.
Pure     no file, no clock, no database.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from gatekeeper.control.shares import Share, share
from gatekeeper.control.yields import first_complete
from gatekeeper.measures.strata import stratified_excess
from gatekeeper.verdict import Decision
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from gatekeeper.history.past import Outcome

LEVEL: Final = 0.01
"""How often, at most, a while without a bad lot names one: shared out among the lots compared."""


@dataclass(frozen=True, slots=True)
class LotRate:
    """One lot, all its rooms together."""

    lot: str
    rooms: tuple[str, ...]  # those that used it
    held: Share  # of its jobs, by their first complete verdict
    others: Share  # of all other lots in the same rooms
    p_value: float | None  # that a lot like the others holds so many; None where nothing compares
    is_worse: bool

    @property
    def says(self) -> str:
        """What it means, in plain words."""
        where = f"in {len(self.rooms)} rooms ({', '.join(self.rooms)})"
        here = where if len(self.rooms) > 1 else "here"
        return (
            f"film lot {plain(self.lot, 80)}: {_counted(self.held)} held at the first try {here}, "
            f"with other lots {_counted(self.others)}: print no more on it until a strip of it "
            f"has been measured"
        )


@dataclass(frozen=True, slots=True)
class RoomTally:
    """What one room's jobs say of its lots: jobs held at the first try, and jobs in all."""

    jobs: tuple[int, int]
    lots: Mapping[str, tuple[int, int]]


def tally(outcomes: Iterable[Outcome]) -> RoomTally:
    """Count one room's verdicts, of each job in the order in which they were given."""
    total = _none()
    lots: defaultdict[str, list[int]] = defaultdict(_none)
    for outcome in first_complete(outcomes):
        named = [lot for lot in outcome.film_lot.split(", ") if lot]
        for counts in (total, *(lots[lot] for lot in named)):
            counts[0] += outcome.decision is Decision.HELD
            counts[1] += 1
    return RoomTally(
        (total[0], total[1]), {lot: (held, whole) for lot, (held, whole) in lots.items()}
    )


def lot_rates(rooms: Mapping[str, Iterable[Outcome]]) -> tuple[LotRate, ...]:
    """Return every lot, the worst first.

    Parameters
    ----------
    rooms : by the room's name its verdicts, of each job in the order in which they were given
    """
    return rates_of({room: tally(outcomes) for room, outcomes in rooms.items()})


def rates_of(rooms: Mapping[str, RoomTally]) -> tuple[LotRate, ...]:
    """Return every lot, the worst first, from what each room by its name has counted."""
    names = dict.fromkeys(lot for counted in rooms.values() for lot in counted.lots)
    found = [_rate(lot, rooms, len(names)) for lot in names]
    return tuple(sorted(found, key=lambda rate: (rate.p_value is None, rate.p_value, rate.lot)))


def _none() -> list[int]:
    return [0, 0]


def _rate(lot: str, rooms: Mapping[str, RoomTally], lots: int) -> LotRate:
    of_lot = {room: counted.lots[lot] for room, counted in rooms.items() if lot in counted.lots}
    places = [
        (held, whole, rooms[room].jobs[0] - held, rooms[room].jobs[1] - whole)
        for room, (held, whole) in of_lot.items()
    ]
    excess = stratified_excess(places)
    sums = [sum(column) for column in zip(*places, strict=True)]
    p_value = excess.p_more if excess else None
    return LotRate(
        lot=lot,
        rooms=tuple(sorted(of_lot)),
        held=share(sums[0], sums[1]),
        others=share(sums[2], sums[3]),
        p_value=p_value,
        is_worse=p_value is not None and p_value * lots < LEVEL,
    )


def _counted(found: Share) -> str:
    bounds = f"{100 * found.lower:.0f} to {100 * found.upper:.0f} %"
    return f"{found.part} of {found.whole} jobs ({bounds})"
