"""Field types for models of YAML files: each takes the text as written and says in words what it wanted.

Pydantic's own number fields take `1_000`, `nan`, `inf` and True; a limit that is not a number approves everything.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema
from pydantic_core import PydanticCustomError

from gatekeeper.wording import plain

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?", re.ASCII)
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)


class Block(BaseModel):
    """A block of keys: a misspelt key is an error, never silence."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def _refuse(name: str, what: str, do: str) -> PydanticCustomError:
    # pydantic formats messages with braces; ours are finished sentences carried as context.
    return PydanticCustomError("gatekeeper", "{what}", {"name": name, "what": what, "do": do})


def _text(value: object) -> str:
    if value is None:
        raise _refuse(
            "no-value", "the key has no value", "write one behind the colon or delete the key"
        )
    if not isinstance(value, str):
        raise _refuse(
            "not-one-value", "a single value is wanted here", "write one value behind the colon"
        )
    return value.strip()


def number_of(value: object) -> float:
    """Return the number that the text is; refuse everything else."""
    text = _text(value)
    if _NUMBER.fullmatch(text):
        return float(text)
    do = "write a plain number; the unit is in the key's name"
    if re.fullmatch(r"[0-9]+,[0-9]+", text):
        do = f"write the decimal mark as a point: {text.replace(',', '.')}"
    raise _refuse("not-a-number", f'"{plain(text)}" is not a number', do)


def whole_number_of(value: object) -> int:
    """Return the whole number that the text is."""
    text = _text(value)
    if re.fullmatch(r"[0-9]{1,9}", text, re.ASCII):
        return int(text)
    raise _refuse(
        "not-a-whole-number",
        f'"{plain(text)}" is not a whole number',
        "write digits only, such as 3",
    )


def date_of(value: object) -> date:
    """Return the calendar day that the text is."""
    text = _text(value)
    do = "write year-month-day, such as 2026-09-01"
    if not _DATE.fullmatch(text):
        raise _refuse("not-a-date", f'"{plain(text)}" is not a date', do)
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise _refuse("not-a-date", f'there is no day "{plain(text)}"', do) from error


def word_of(value: object) -> str:
    """Return text that is not empty."""
    text = _text(value)
    if not text:
        raise _refuse(
            "no-value", "the key has no value", "write one behind the colon or delete the key"
        )
    return text


def words_of(value: object) -> tuple[str, ...]:
    """Return a list of words; a single word counts as a list of one."""
    items = [value] if isinstance(value, str) else value
    if not isinstance(items, list) or not items:
        raise _refuse(
            "not-a-list", "a list is wanted here", "write [one, two] or lines that begin with -"
        )
    return tuple(word_of(item) for item in items)


def numbers_of(value: object) -> tuple[float, ...]:
    """Return a list of numbers; a single one counts as a list of one."""
    items = [value] if isinstance(value, str) else value
    if not isinstance(items, list) or not items:
        raise _refuse(
            "not-a-list", "a list is wanted here", "write [720, 1440] or lines that begin with -"
        )
    return tuple(number_of(item) for item in items)


def yes_no_of(value: object) -> bool:
    """Return yes or no, in the spellings that YAML knows."""
    text = _text(value).casefold()
    if text in {"yes", "true", "on"}:
        return True
    if text in {"no", "false", "off"}:
        return False
    raise _refuse("not-yes-or-no", f'"{plain(text)}" is neither yes nor no', "write yes or no")


def one_of(*words: str) -> BeforeValidator:
    """Return a validator that takes just these words, compared without case."""

    def choose(value: object) -> str:
        text = _text(value)
        for word in words:
            if text.casefold() == word.casefold():
                return word
        raise _refuse(
            "not-a-choice",
            f'"{plain(text)}" is not one of the choices',
            "write " + " or ".join(words),
        )

    return BeforeValidator(choose)


def _schema(**schema: Any) -> WithJsonSchema:  # noqa: ANN401 -- JSON Schema is that loose
    return WithJsonSchema(schema)


NumberField = Annotated[
    float, BeforeValidator(number_of), Field(allow_inf_nan=False), _schema(type="number")
]
CountField = Annotated[int, BeforeValidator(whole_number_of), _schema(type="integer", minimum=0)]
DateField = Annotated[date, BeforeValidator(date_of), _schema(type="string", format="date")]
WordField = Annotated[str, BeforeValidator(word_of), _schema(type=["string", "number"])]
WordsField = Annotated[
    tuple[str, ...],
    BeforeValidator(words_of),
    _schema(type=["array", "string"], items={"type": ["string", "number"]}, minItems=1),
]
NumbersField = Annotated[
    tuple[float, ...],
    BeforeValidator(numbers_of),
    _schema(type=["array", "number"], items={"type": "number"}, minItems=1),
]
YesNoField = Annotated[bool, BeforeValidator(yes_no_of), _schema(type="boolean")]
