"""What one value says of another: the second look at rules whose shape is right."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.rules.dates import change_problems, changes_of
from gatekeeper.sheet import FIELDS
from gatekeeper.wording import did_you_mean, quoted, shortest
from gatekeeper.yamlfiles.fields import number_of
from gatekeeper.yamlfiles.places import FileProblem, Node, Place, Scalar, Series, Table

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from gatekeeper.rules.effective import Limit

FULL_PERCENT = 100.0

LARGEST = {
    "density": (6.0, "no transmission densitometer reads beyond; is the decimal point missing?"),
    "percent": (FULL_PERCENT, "there is no more than all of it"),
    "days": (36525.0, "that is more than a century"),
    "lpi": (1000.0, "no plate holds so fine a ruling"),
    "ppm": (500.0, "no film grows so much; is the figure a percentage?"),
    "mJ/cm2": (1e6, "no plate takes so much; is the figure for a square metre?"),
}
"""By unit, the largest limit that is no slip of the keyboard, and why."""

ABOVE_ZERO = frozenset(
    {
        "tolerance",
        "spread",
        "min_grey_levels",
        "min_rise",
        "register_mm",
        "slope_max",
        "slope_significance_percent",
        "tolerance_mm",
    }
)

SMALLEST = {
    "spread_factor": (1.0, "which is plain area"),
    "sign_off_after": (1.0, "since a negative that is not measured cannot pass"),
    "max_length_factor": (1.0, "which is no difference at all"),
    "same_readings_count": (4.0, "since three solids agree by chance every other day"),
    "floor_dose_mj_cm2": (0.1, "since no plate takes less; is the figure in J/cm2?"),
    "detail_dose_mj_cm2": (10.0, "since no plate takes less; is the figure in J/cm2?"),
    "main_exposure_mj_cm2": (10.0, "since no plate takes less; is the figure in J/cm2?"),
}
"""By key, the smallest number that has a meaning, and why."""

MAIN_LIMITS = (("solid_density", "min"), ("clear_density", "max"))
"""What a section is for; without it the rest of the section judges nothing."""


# -- within one block ---------------------------------------------------------------------------


def layer_problems(table: Table) -> Iterator[FileProblem]:
    """Yield what is wrong within one layer's block of limits."""
    yield from change_problems(table)
    for block in (table, *changes_of(table)):
        yield from _tint_problems(block.entries.get("tints"))
        yield from _required_problems(block.entries.get("required"))


def _tint_problems(tints: Node | None) -> Iterator[FileProblem]:
    seen: dict[float, int] = {}
    for item in tints.items if isinstance(tints, Series) else ():
        if not isinstance(item, Table):
            continue
        nominal = item.entries.get("nominal")
        if nominal is None:
            what = "a tint has no nominal, so nobody knows which one it is"
            yield FileProblem(item.place, "no-nominal", what, "write {nominal: 50, tolerance: 2.0}")
        elif len(item.entries) == 1:
            what = "a tint has a nominal and no limit, so nothing would be judged"
            yield FileProblem(
                item.place, "no-tolerance", what, "add its tolerance, such as tolerance: 2.0"
            )
        value = _number(nominal)
        if value is None or nominal is None:
            continue
        if not 0 < value < FULL_PERCENT:
            what = f"a tint of {shortest(value)} % is not between 0 and 100 %"
            do = "clear film has its own rule, clear_density; solid has solid_density"
            yield FileProblem(nominal.place, "nominal-out-of-range", what, do)
        if value in seen:
            what = f"the tint {shortest(value)} % stands here and in line {seen[value]}"
            yield FileProblem(nominal.place, "nominal-twice", what, "keep one of the two")
        seen.setdefault(value, nominal.place.line)


def _number(node: Node | None) -> float | None:
    """Return the number of a node; None where it has none, which the shape's own check says."""
    try:
        return number_of(node.text) if isinstance(node, Scalar) else None
    except ValueError:
        return None


def _required_problems(required: Node | None) -> Iterator[FileProblem]:
    for item in required.items if isinstance(required, Series) else (required,):
        text = item.text if isinstance(item, Scalar) else None
        if item and text and " ".join(text.casefold().split()) not in FIELDS:
            what = f"no sheet has a field {quoted(text)}"
            yield FileProblem(item.place, "unknown-field", what, did_you_mean(text, FIELDS))


def unknown_workflow_problems(
    customer: Table, known: Iterable[str]
) -> Iterator[tuple[str, FileProblem]]:
    """Yield the workflows that a customer's file names and no workflow file defines."""
    names = customer.entries.get("workflows")
    known = set(known)
    for name, place in names.key_places.items() if isinstance(names, Table) else ():
        if name not in known:
            what = f"no file in workflows/ defines the workflow {quoted(name)}"
            yield name, FileProblem(place, "unknown-workflow", what, did_you_mean(name, known))


# -- in the merged rules ------------------------------------------------------------------------


def value_problems(limits: Mapping[tuple[str, ...], Limit]) -> Iterator[FileProblem]:
    """Yield limits that no reading could meet, or every reading would."""
    for limit in limits.values():
        if not isinstance(limit.value, float):
            continue
        must_be_more = limit.path[-1] in ABOVE_ZERO
        if limit.value < 0 or (limit.value == 0 and must_be_more):
            word = "above zero" if must_be_more else "zero or more"
            what = f"{limit.rule} is {limit}, but must be {word}"
            yield FileProblem(limit.place, "out-of-range", what, "correct the number")
        smallest, why = SMALLEST.get(limit.path[-1], (limit.value, ""))
        if limit.value < smallest:
            what = f"{limit.rule} is {limit}, but {shortest(smallest)} is the least, {why}"
            yield FileProblem(limit.place, "out-of-range", what, "correct the number")
        largest, why = LARGEST.get(limit.unit, (limit.value, ""))
        if limit.value > largest:
            what = f"{limit.rule} is {limit}, but {shortest(largest)} is the most: {why}"
            yield FileProblem(limit.place, "out-of-range", what, "correct the number")


def crossing_problems(limits: Mapping[tuple[str, ...], Limit]) -> Iterator[FileProblem]:
    """Yield each min that is above its max, at the line of the later layer."""
    for path, lower in limits.items():
        upper = limits.get((*path[:-1], "max"))
        if path[-1] != "min" or upper is None or lower.number <= upper.number:
            continue
        what = (
            f"{'.'.join(path[:-1])}: min {lower} ({lower.origin}) is above "
            f"max {upper} ({upper.origin})"
        )
        yield FileProblem(
            max(lower, upper, key=lambda limit: (limit.layer_rank, limit.place)).place,
            "limits-cross",
            what,
            "no negative can satisfy both: correct one of the two lines",
        )


def main_limit_problems(
    limits: Mapping[tuple[str, ...], Limit], key_places: Mapping[str, Place]
) -> Iterator[FileProblem]:
    """Yield sections in use that lack the limit they are for, at the line of the section."""
    used = {path[0] for path in limits}
    for section, key in MAIN_LIMITS:
        if section in used and (section, key) not in limits:
            what = f"{section} has no {key}, so the section judges nothing"
            do = f"add `{key}:` to {section} in the workflow's file"
            yield FileProblem(key_places[section], "no-main-limit", what, do)
