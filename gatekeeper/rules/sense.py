"""What one value says of another: the second look at rules whose shape is right."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.rules.models import Stricter
from gatekeeper.sheet import FIELDS
from gatekeeper.wording import did_you_mean, quoted
from gatekeeper.yamlfiles.places import FileProblem, Node, Scalar, Series, Table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.effective import Limit

MAX_DENSITY = 6.0
"""No transmission densitometer reads beyond; a larger limit is a slip of the keyboard."""

FULL_PERCENT = 100.0


def layer_problems(table: Table) -> Iterator[FileProblem]:
    """Yield what is wrong within one layer's block of limits."""
    yield from _tint_problems(table.entries.get("tints"))
    yield from _required_problems(table.entries.get("required"))


def _tint_problems(tints: Node | None) -> Iterator[FileProblem]:
    seen: dict[float, int] = {}
    for item in tints.items if isinstance(tints, Series) else ():
        if not isinstance(item, Table):
            continue
        nominal = item.entries.get("nominal")
        if not isinstance(nominal, Scalar) or nominal.text is None:
            yield FileProblem(
                item.place,
                "no-nominal",
                "a tint has no nominal",
                "write {nominal: 50, tolerance: 2.0}",
            )
            continue
        value = float(nominal.text)
        if not 0 < value < FULL_PERCENT:
            yield FileProblem(
                nominal.place,
                "nominal-out-of-range",
                f"a tint of {value:g} % is not between 0 and 100 %",
                "clear film has its own rule, clear_density; solid has solid_density",
            )
        if value in seen:
            yield FileProblem(
                nominal.place,
                "nominal-twice",
                f"the tint {value:g} % stands here and in line {seen[value]}",
                "keep one of the two",
            )
        seen.setdefault(value, nominal.place.line)


def _required_problems(required: Node | None) -> Iterator[FileProblem]:
    items = required.items if isinstance(required, Series) else (required,)
    for item in items:
        if (
            isinstance(item, Scalar)
            and item.text
            and " ".join(item.text.casefold().split()) not in FIELDS
        ):
            yield FileProblem(
                item.place,
                "unknown-field",
                f"no sheet has a field {quoted(item.text)}",
                did_you_mean(item.text, FIELDS),
            )


def whole_problems(limits: dict[tuple[str, ...], Limit]) -> Iterator[FileProblem]:
    """Yield what is wrong in merged rules: limits that cross, sections without their main limit."""
    for path, limit in limits.items():
        yield from _value_problems(limit)
        if (
            path[-1] == "min"
            and (upper := limits.get((*path[:-1], "max")))
            and limit.number > upper.number
        ):
            yield FileProblem(
                max(limit.place, upper.place),
                "limits-cross",
                f"{'.'.join(path[:-1])}: min {limit} ({limit.origin}) is above "
                f"max {upper} ({upper.origin})",
                "no negative can satisfy both: correct one of the two lines",
            )
    needed = (
        ("solid_density", "min"),
        ("clear_density", "max"),
    )
    for section, key in needed:
        inside = [limit for path, limit in limits.items() if path[0] == section]
        if inside and (section, key) not in limits:
            yield FileProblem(
                inside[-1].place,
                "no-main-limit",
                f"{section} has no {key}",
                f"add `{key}:` to {section} in the workflow's file",
            )


def _value_problems(limit: Limit) -> Iterator[FileProblem]:
    if not isinstance(limit.value, float):
        return
    above_zero = {"tolerance", "spread", "min_grey_levels"}
    if limit.value < 0 or (limit.value == 0 and limit.path[-1] in above_zero):
        word = "above zero" if limit.path[-1] in above_zero else "zero or more"
        yield FileProblem(
            limit.place,
            "out-of-range",
            f"{limit.rule} is {limit}, but must be {word}",
            "correct the number",
        )
    if limit.unit == "density" and limit.value > MAX_DENSITY:
        yield FileProblem(
            limit.place,
            "out-of-range",
            f"{limit.rule} is {limit}, but no film has a density above {MAX_DENSITY:g}",
            "write the density with its decimal point, such as 2.70",
        )


def looser_than(limit: Limit, floor: Limit, stricter: Stricter) -> bool:
    """Whether a limit allows what the floor does not."""
    if stricter is Stricter.HIGHER:
        return not limit.number >= floor.number
    if stricter is Stricter.LOWER:
        return not limit.number <= floor.number
    if stricter is Stricter.SUBSET:
        allowed = {word.casefold() for word in floor.words}
        return any(word.casefold() not in allowed for word in limit.words)
    return False  # required fields only ever add up


def floor_problem(limit: Limit, floor: Limit) -> FileProblem:
    """Return the message for a limit that is looser than the site's floor, naming both lines."""
    return FileProblem(
        limit.place,
        "looser-than-floor",
        f"{limit.rule}: {limit} is looser than the site's floor {floor} ({floor.origin})",
        f"write {floor} or something stricter, or ask who keeps site.yaml to change the floor",
    )


def unknown_workflow_problems(customer: Table, known: set[str]) -> Iterator[FileProblem]:
    """Yield the workflows that a customer's file names and no workflow file defines."""
    names = customer.entries.get("workflows")
    if not isinstance(names, Table):
        return
    for name, place in names.key_places.items():
        if name not in known:
            yield FileProblem(
                place,
                "unknown-workflow",
                f"no file in workflows/ defines the workflow {quoted(name)}",
                did_you_mean(name, known),
            )
