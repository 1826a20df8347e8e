"""A reading profile: how the files of one meter map onto the sheet's names, in the site's own YAML.

Keys     `recognise` says which files it is for; `columns` names, for each name of the sheet, the
         file's own column (a name, or a number counted from 1); the rest says how its words and
         numbers are written. What a key means stands beside it below, and in the schema.
Errors   `BrokenFilesError` with file, line and advice for every mistake at once.
"""

from __future__ import annotations

import codecs
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field
from pydantic_core import PydanticCustomError

from gatekeeper.readers.names import FIELD_NAMES, MAPPED_NAMES, OPACITY, plain_name
from gatekeeper.readers.patterns import UnsafePatternError, check
from gatekeeper.readers.profile_sense import problems_of
from gatekeeper.wording import did_you_mean, plain, quoted
from gatekeeper.yamlfiles.fields import (
    Block,
    CountField,
    NumberField,
    WordField,
    WordsField,
    YesNoField,
    one_of,
    word_of,
)
from gatekeeper.yamlfiles.load import load
from gatekeeper.yamlfiles.places import BrokenFilesError
from gatekeeper.yamlfiles.validate import validate


def refuse(name: str, what: str, do: str) -> PydanticCustomError:
    """Return the error that reaches a person as this sentence and this advice."""
    return PydanticCustomError("gatekeeper", "{what}", {"name": name, "what": what, "do": do})


def _mapped_name(value: object) -> str:
    name = plain_name(word_of(value))
    if name not in MAPPED_NAMES:
        raise refuse(
            "unknown-name",
            f"{quoted(str(value))} is no name of the sheet; {did_you_mean(name, MAPPED_NAMES)}",
            "write the sheet's name before the colon and the file's own behind it",
        )
    return name


def _field_name(value: object) -> str:
    name = plain_name(word_of(value))
    if name not in FIELD_NAMES:
        raise refuse(
            "unknown-name",
            f"{quoted(str(value))} is no field of a head; {did_you_mean(name, FIELD_NAMES)}",
            "a constant is a field of the head, such as meter or filter",
        )
    return name


def _pattern(value: str) -> str:
    try:
        check(value)
    except UnsafePatternError as error:
        raise refuse(
            "bad-pattern",
            f"{quoted(value)} cannot be used: {plain(str(error), 100)}",
            "correct the pattern; it is a regular expression as Python has them",
        ) from error
    return value


def _patterns(values: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(map(_pattern, values))


def _code_page(value: str) -> str:
    try:
        b" ".decode(codecs.lookup(value).name)  # refuses codecs that are not of text
    except (LookupError, UnicodeDecodeError) as error:
        raise refuse(
            "unknown-code-page",
            f"{quoted(value)} is no code page",
            "write one such as windows-1252",
        ) from error
    return value


PatternField = Annotated[WordField, AfterValidator(_pattern)]
PatternsField = Annotated[WordsField, AfterValidator(_patterns)]
PatchField = Annotated[str, one_of("clear", "solid", "tint", "length")]


class Recognise(Block):
    """Which files the profile is for. All that is given must hold."""

    columns: WordsField = Field((), description="names that the row of column names has")
    first_line: PatternField | None = Field(None, description="pattern found in the first line")


class PatchRules(Block):
    """How a row tells which patch it is. clear, solid, tint and length are always understood."""

    words: dict[PatchField, WordsField] = Field({}, description="the file's own words")
    patterns: dict[PatchField, PatternsField] = Field(
        {}, description="patterns, with groups nominal, where and name where they hold them"
    )
    by_nominal: YesNoField = Field(
        default=False, description="0 is clear, 100 is solid, all between are tints"
    )
    order: WordsField = Field(
        (), description="the patches in the order read, such as [clear, solid, tint 50]"
    )
    ignore: WordsField = Field((), description="words of rows that are no patch")


class OverRange(Block):
    """Words for a reading above what the meter can read."""

    words: WordsField = Field(description="what the meter writes instead of a number")
    at_least: NumberField = Field(description="what the word proves, in the file's own unit")


class UnderRange(Block):
    """Words for a reading below what the meter can read."""

    words: WordsField = Field(description="what the meter writes instead of a number")
    at_most: NumberField = Field(description="what the word proves, in the file's own unit")


class Profile(Block):
    """One kind of file from one kind of meter."""

    profile: WordField = Field(description="its name, as reports give it")
    title: WordField = Field("", description="what it is, for people")
    format: Annotated[str, one_of("table", "cgats", "text")] = Field(
        "table", description="table of cells, CGATS.17 text, or lines of text"
    )
    recognise: Recognise = Field(description="which files it is for")
    separator: Annotated[str, one_of("comma", "semicolon", "tab", "blanks")] | None = Field(
        None, description="what parts cells; without it the one that makes the columns appear"
    )
    code_page: Annotated[WordField, AfterValidator(_code_page)] | None = Field(
        None, description="of text that is not UTF-8; without it the site's"
    )
    column_names: YesNoField = Field(default=True, description="a row of column names is there")
    skip_lines: CountField = Field(0, description="lines above the first row")
    columns: dict[Annotated[str, BeforeValidator(_mapped_name)], WordField] = Field(
        {}, description="the sheet's name: the file's column, by name or by number from 1"
    )
    lines: PatternsField = Field(
        (), description="format text: patterns whose groups are named like the sheet's names"
    )
    constants: dict[Annotated[str, BeforeValidator(_field_name)], WordField] = Field(
        {}, description="fields of the head that are the same in every file"
    )
    units: dict[Annotated[str, BeforeValidator(_mapped_name)], WordField] = Field(
        {}, description="unit of a number that the file writes without one"
    )
    decimal_mark: Annotated[str, one_of("point", "comma")] | None = Field(
        None, description="without it each number must speak for itself"
    )
    thousands_mark: Annotated[str, one_of("none", "point", "comma", "blank", "apostrophe")] = Field(
        "none", description="what parts thousands"
    )
    date_formats: WordsField = Field((), description="strptime patterns, besides ISO 8601")
    quantity: Annotated[str, one_of("density", "dot", "transmittance", OPACITY)] | None = Field(
        None, description="what the column mapped to `reading` holds"
    )
    scale: Annotated[str, one_of("percent", "fraction")] = Field(
        "percent", description="how dots and transmittances are written"
    )
    density_sign: Annotated[str, one_of("plus", "minus")] = Field(
        "plus", description="minus: the meter writes densities as negative numbers"
    )
    dot_counts: Annotated[str, one_of("clear", "black")] = Field(
        "clear", description="black: the meter's dot is the part that blocks light"
    )
    patches: PatchRules = Field(
        default_factory=PatchRules, description="how a row tells which patch it is"
    )
    over_range: OverRange | None = Field(None, description="words above the meter's range")
    under_range: UnderRange | None = Field(None, description="words below the meter's range")


def load_profile(content: bytes, file: str) -> Profile:
    """Return the profile that the bytes of a YAML file describe.

    Parameters
    ----------
    file : the file's name as messages give it, relative to the site

    Raises
    ------
    BrokenFilesError : with every problem, each with its line
    """
    table = load(content, file)
    profile, problems = validate(Profile, table)
    if profile is not None:
        problems = problems_of(profile, table)
    if profile is None or problems:
        raise BrokenFilesError(problems)
    return profile
