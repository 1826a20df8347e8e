"""What one key of a reading profile says of another: the second look, once all have their type."""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING

from gatekeeper.readers.names import MAPPED_NAMES, OPACITY, ORDERED, READING, plain_name
from gatekeeper.readers.patterns import compiled
from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.readers.values import ValueReader, unit_table
from gatekeeper.sheet import NOWHERE
from gatekeeper.wording import did_you_mean, listing, quoted
from gatekeeper.yamlfiles.declared import tells_whole_day
from gatekeeper.yamlfiles.places import FileProblem, Place, Table

if TYPE_CHECKING:
    from collections.abc import Iterator
    from collections.abc import Set as AbstractSet

    from gatekeeper.readers.profile import Profile

_READINGS = frozenset({"density", "dot", "transmittance", OPACITY, "length", READING})
_TABULAR = frozenset({"table", "cgats"})


def problems_of(profile: Profile, table: Table) -> list[FileProblem]:
    """Return everything in the profile that cannot work, each with the line of its key."""
    rules = (
        _sources,
        _positions,
        _readings,
        _patches,
        _constants,
        _numbers,
        _units,
        _dates,
        _groups,
    )
    return [
        FileProblem(_place(table, path), name, what, do)
        for rule in rules
        for path, name, what, do in rule(profile)
    ]


_Remark = tuple[tuple[str, ...], str, str, str]  # path of keys, name, what, what to do


def mapped(profile: Profile) -> AbstractSet[str]:
    """Return the sheet's names that the profile finds something for."""
    if profile.format == "text":
        return {
            plain_name(group) for pattern in profile.lines for group in compiled(pattern).groupindex
        }
    return profile.columns.keys()


def _sources(profile: Profile) -> Iterator[_Remark]:
    if not profile.recognise.columns and not profile.recognise.first_line:
        yield (
            ("recognise",),
            "never-used",
            "nothing says which files the profile is for",
            "add columns: [names] or first_line: pattern",
        )
    if profile.format == "text" and not profile.lines:
        yield (
            ("format",),
            "no-lines",
            "text needs patterns for its lines",
            "add a list under lines",
        )
    if profile.format in _TABULAR and profile.lines:
        yield ("lines",), "unused-key", "lines are only for format: text", "delete the key"
    if profile.format == "text" and profile.columns:
        yield ("columns",), "unused-key", "text has no columns", "name groups in lines instead"
    if not profile.column_names and profile.recognise.columns:
        yield (
            ("recognise", "columns"),
            "no-names",
            "without a row of column names there is nothing to recognise",
            "use first_line, or column_names: yes",
        )


def _positions(profile: Profile) -> Iterator[_Remark]:
    if not profile.column_names:
        if profile.format == "table" and profile.separator is None:
            yield (
                ("column_names",),
                "no-separator",
                "without column names the separator cannot be found",
                "add separator: comma, semicolon, tab or blanks",
            )
        for name, column in profile.columns.items():
            if not column.isdigit() or int(column) < 1:
                yield (
                    ("columns", name),
                    "not-a-position",
                    f"without column names {quoted(column)} must be a number",
                    "count columns from 1",
                )


def _readings(profile: Profile) -> Iterator[_Remark]:
    names = mapped(profile)
    if not names & _READINGS:
        yield (
            ("lines",) if profile.format == "text" else ("columns",),
            "no-reading",
            "no column or group holds a reading",
            "map one of density, dot, transmittance, length or reading",
        )
    if READING in names and profile.quantity is None:
        yield (
            ("columns",),
            "no-quantity",
            "nothing says what the reading is",
            "add quantity: density, dot, transmittance or opacity",
        )
    if profile.quantity is not None and READING not in names:
        yield ("quantity",), "unused-key", "no column is mapped to reading", "delete the key"
    quantity = "density" if profile.quantity == OPACITY else profile.quantity
    if READING in names and quantity in names:
        yield (
            ("columns", READING),
            "mapped-twice",
            f"{quantity} and reading are the same quantity",
            "keep one of them",
        )


def _patches(profile: Profile) -> Iterator[_Remark]:
    names, rules = mapped(profile), profile.patches
    if not (names & {"patch", "name"} or rules.order or (rules.by_nominal and "nominal" in names)):
        yield (
            ("patches",),
            "no-patches",
            "nothing says which patch a row is",
            "map patch, or use patches: by_nominal or order",
        )
    for entry in rules.order:
        found = ORDERED.fullmatch(entry.casefold())
        if found is None or (found["kind"] in {"tint", "length"} and not found["nominal"]):
            yield (
                ("patches", "order"),
                "bad-order",
                f"{quoted(entry)} is no patch",
                "write clear, solid, tint 50 or length 600",
            )
    kinds: dict[str, str] = {}
    for kind, words in rules.words.items():
        for word in map(str.casefold, words):
            if kinds.setdefault(word, kind) != kind:
                what = f"{quoted(word)} is a word for {kinds[word]} and for {kind}"
                yield ("patches", "words", kind), "word-twice", what, "keep it in one place"


def _constants(profile: Profile) -> Iterator[_Remark]:
    values = ValueReader(UTC, profile.date_formats)
    for name, text in profile.constants.items():
        if name in mapped(profile):
            yield (
                ("constants", name),
                "mapped-twice",
                f"{name} is mapped and constant",
                "keep one of the two",
            )
        try:
            values.field(name, text, NOWHERE)
        except RefusedValueError as error:
            yield ("constants", name), "bad-constant", f"{name}: {error.says}", error.do


def _numbers(profile: Profile) -> Iterator[_Remark]:
    if profile.decimal_mark is not None and profile.decimal_mark == profile.thousands_mark:
        yield (
            ("thousands_mark",),
            "marks-alike",
            "one mark cannot be both the decimal mark and part thousands",
            "correct one of the two",
        )
    over = set(profile.over_range.words) if profile.over_range else set()
    under = set(profile.under_range.words) if profile.under_range else set()
    if both := {word.casefold() for word in over} & {word.casefold() for word in under}:
        what = f"{listing(both)} cannot be above and below the range"
        yield ("under_range", "words"), "word-twice", what, "keep it in one place"


def _units(profile: Profile) -> Iterator[_Remark]:
    for name, word in profile.units.items():
        table = unit_table(profile.quantity or "" if name == READING else name)
        if table is None or word.casefold().replace(" ", "") not in table.factors:
            what = f"{quoted(word)} is no unit of {name}"
            offered = listing(table.offered) if table else "no unit"
            yield ("units", name), "unknown-unit", what, f"{name} takes {offered}"


def _dates(profile: Profile) -> Iterator[_Remark]:
    for pattern in profile.date_formats:
        do = "write it as strptime has it, with day, month and year: %d.%m.%Y %H:%M"
        try:
            is_whole = tells_whole_day(pattern)
        except ValueError:
            yield ("date_formats",), "bad-date-format", f"{quoted(pattern)} is no date format", do
            continue
        if not is_whole:
            yield ("date_formats",), "bad-date-format", f"{quoted(pattern)} tells no whole day", do


def _groups(profile: Profile) -> Iterator[_Remark]:
    for pattern in profile.lines:
        for group in compiled(pattern).groupindex:
            if plain_name(group) not in MAPPED_NAMES:
                yield (
                    ("lines",),
                    "unknown-name",
                    f"the group {quoted(group)} is no name of the sheet; "
                    + did_you_mean(plain_name(group), MAPPED_NAMES),
                    "name the group as the sheet does, with _ for a blank",
                )
    allowed = {"nominal", "where", "name"}
    for kind, patterns in profile.patches.patterns.items():
        for group in {group for pattern in patterns for group in compiled(pattern).groupindex}:
            if group not in allowed:
                what = f"the group {quoted(group)} means nothing here"
                yield ("patches", "patterns", kind), "unknown-name", what, "use " + listing(allowed)


def _place(table: Table, path: tuple[str, ...]) -> Place:
    place = table.place
    node: object = table
    for key in path:
        if not isinstance(node, Table):
            break
        match = next((own for own in node.entries if plain_name(own) == plain_name(key)), None)
        if match is None:
            break
        place, node = node.key_places[match], node.entries[match]
    return place
