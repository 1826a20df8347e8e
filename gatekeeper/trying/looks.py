"""What of a film each check looks at: films alike in that are answered alike, and judged once.

A room's film comes from a few boxes, is read by a few meters and to a few digits, so that of a
hundred thousand films most are alike in what one check looks at, though no two are alike in all.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import TYPE_CHECKING, TypeAlias

from gatekeeper.history.reread import PATCH, PastFilm
from gatekeeper.rules.edits import GUARDED
from gatekeeper.sheet import FIELDS, Bound, FieldKind, PatchKind

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import tzinfo

    from gatekeeper.history.reread import Cells
    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules

Arrived: TypeAlias = Callable[[], datetime]
"""The moment at which the film's sheet arrived; asked for where the sheet names none."""

Get: TypeAlias = "Callable[[PastFilm, Arrived], Hashable]"


@dataclass(frozen=True, slots=True)
class Looks:
    """What of a film a check's outcome can rest on, beside the rules and the register.

    Attributes
    ----------
    head : what the sheet says, of a date the calendar day in the room
    day : the date that the day of arrival stands in for where the sheet does not give it
    names : whether it looks at which things the sheet says, and at none of them
    patches : kinds of patches, as the history writes them; what they read is net of clear film
    means : those of them of which it takes nothing but the mean density
    beyond : what it looks at beside the film itself, by the names of `Subject`
    holds_unasked : whether it can hold a film under rules that ask nothing of it
    """

    head: tuple[str, ...] = ()
    day: str = ""
    names: bool = False
    patches: frozenset[str] = frozenset()
    means: frozenset[str] = frozenset()
    beyond: frozenset[str] = frozenset()
    holds_unasked: bool = False

    def asks_for_arrival(self, film: PastFilm) -> bool:
        """Whether the check asks when the film's sheet arrived."""
        return "arrived" in self.beyond or bool(self.day and self.day not in film.head)


def _net(*kinds: PatchKind) -> frozenset[str]:
    return frozenset({PatchKind.CLEAR, *kinds})


_ZERO = ("zeroed_on",)
_SETTING = ("resolution_dpi", "ruling_lpi")
_SOLID = frozenset({PatchKind.SOLID})
_DOTS = _net(PatchKind.SOLID, PatchKind.TINT)

LOOKS: Mapping[str, Looks] = {
    "required": Looks(names=True),
    "plausibility": Looks(
        _ZERO, patches=frozenset(PatchKind), beyond=frozenset({"others", "same_readings"})
    ),
    "solid_density": Looks(_ZERO, patches=_net(PatchKind.SOLID)),
    "clear_density": Looks(_ZERO, patches=_net()),
    "density_range": Looks(_ZERO, patches=_net(PatchKind.SOLID)),
    "tints": Looks(_ZERO, patches=_DOTS, means=_SOLID),
    "dot": Looks(_ZERO, patches=_DOTS, means=_SOLID),
    "tone_scale": Looks((*_ZERO, *_SETTING), patches=_DOTS, means=_SOLID),
    "exposure": Looks((*_ZERO, "meter", "filter"), patches=_net(PatchKind.SOLID)),
    "size": Looks(
        (
            "plate_thickness_mm",
            "plate_base_mm",
            "repeat_mm",
            "shrink_percent",
            "temperature_c",
            "humidity_percent",
        ),
        patches=frozenset({PatchKind.LENGTH}),
        beyond=frozenset({"others"}),
    ),
    "film": Looks(("film_lot", "film_made", "film_opened"), day="printed", holds_unasked=True),
    "linearization": Looks(
        ("printer", "film_lot", "curve", "linearized", *_SETTING), day="printed"
    ),
    "control": Looks(beyond=frozenset({"signals"})),
    "meter": Looks(("meter", "filter", "meter_calibrated"), day="measured", holds_unasked=True),
    "screen": Looks(("printer", *_SETTING)),
    "inspection": Looks(
        ("cleaned", "scratches", "pinholes", "emulsion", "reads", "smallest_type_pt")
    ),
    "freshness": Looks(beyond=frozenset({"arrived"}), holds_unasked=True),
    "remeasuring": Looks(beyond=frozenset({"earlier"})),
}
"""By the names of the checks."""

_KINDS = {field.attribute: field.kind for field in FIELDS.values()}
_DATES = frozenset({FieldKind.MOMENT, FieldKind.DAY})
_WORDS = frozenset({FieldKind.TEXT, FieldKind.ZERO})
_KIND, _DENSITY, _BOUND = (PATCH.index(name) for name in ("kind", "density", "bound"))
_KEPT = 65_536
"""Days that are kept once worked out."""


class Days:
    """Calendar days of a room."""

    def __init__(self, zone: tzinfo) -> None:
        self._zone = zone
        self.of_text: Callable[[str], date] = lru_cache(_KEPT)(self._of_text)

    def of(self, moment: datetime) -> date:
        """Return the day of a moment."""
        return moment.astimezone(self._zone).date()

    def _of_text(self, instant: str) -> date:
        return self.of(datetime.fromisoformat(instant))


class Likeness:
    """What a check looks at under some rules: a film's value of it, and the film cut down to it."""

    def __init__(self, check: str, rules: EffectiveRules, register: Register, days: Days) -> None:
        looks = LOOKS[check]
        self._looks = looks
        self._head = set(looks.head)
        gets = [_particular(name, days) for name in looks.head]
        if check in GUARDED and rules.is_guarded:
            self._head.add("meter")
            gets.append(_doubt(register))
        if looks.day:
            self._head.add(looks.day)
            gets.append(_day(looks.day, days))
        if looks.names:
            gets.append(lambda film, _: tuple(film.head))
        if whole := looks.patches - looks.means:
            gets.append(lambda film, _: _patches(film, whole))
        gets += map(_mean, sorted(looks.means))
        self._gets = tuple(gets)

    def of(self, film: PastFilm, arrived: Arrived) -> Hashable:
        """Return what is equal for films that the check answers alike."""
        return tuple([get(film, arrived) for get in self._gets])

    def bare(self, film: PastFilm) -> PastFilm:
        """Return the film with nothing but what the check looks at."""
        said = film.head
        head = (
            said if self._looks.names else {name: said[name] for name in self._head & said.keys()}
        )
        return PastFilm(head, _patches(film, self._looks.patches))


def _patches(film: PastFilm, kinds: frozenset[str]) -> tuple[Cells, ...]:
    return tuple([row for row in film.patches if row[_KIND] in kinds])


def _mean(kind: str) -> Get:
    """Return what gives the mean of these patches; the patches, where it is not just the mean.

    Over air, net densities have another mean in its last bits: far less than the checks' slack.
    """

    def mean(film: PastFilm, _: Arrived) -> Hashable:
        rows = [row for row in film.patches if row[_KIND] == kind]
        densities = [row[_DENSITY] for row in rows if row[_BOUND] == Bound.EXACT]
        if not rows or len(densities) < len(rows) or None in densities:
            return tuple(rows)
        level: float = sum(densities) / len(densities)
        return level

    return mean


def _particular(name: str, days: Days) -> Get:
    kind = _KINDS[name]
    if kind in _WORDS:
        return lambda film, _: film.head.get(name)
    if kind in _DATES:
        of_text = days.of_text
        return lambda film, _: (said := film.head.get(name)) and of_text(said["instant"])
    return lambda film, _: (said := film.head.get(name)) and said["value"]


def _doubt(register: Register) -> Get:
    """Return what gives how good the meter is; two that are equally good are alike."""

    @lru_cache(_KEPT)
    def doubt_of(meter: str) -> float | None:
        entry = register.meter(meter)
        return entry.uncertainty if entry else None

    return lambda film, _: doubt_of(film.head.get("meter", ""))


def _day(name: str, days: Days) -> Get:
    def day(film: PastFilm, arrived: Arrived) -> date:
        said = film.head.get(name)
        return days.of_text(said["instant"]) if said else days.of(arrived())

    return day
