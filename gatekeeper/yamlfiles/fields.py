"""Field types of YAML files: each takes the text as written and says in words what it wanted.

Pydantic's own number fields take `1_000`, `nan`, `inf` and True; a limit that is not a number
approves everything.
"""

from __future__ import annotations

import math
import re
import unicodedata
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema
from pydantic_core import PydanticCustomError
from pydantic_core.core_schema import no_info_before_validator_function

from gatekeeper.wording import HIDDEN, quoted

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
    from pydantic_core import CoreSchema

_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?"
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_NO_VALUE = "write one behind the colon or delete the key"


class Block(BaseModel):
    """A block of keys: a misspelt key is an error, never silence."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def refuse(name: str, what: str, do: str) -> PydanticCustomError:
    """Return the error that a field raises: a short fixed name, a sentence, and what to do."""
    # pydantic formats messages with braces; ours are finished sentences carried as context.
    return PydanticCustomError("gatekeeper", "{what}", {"name": name, "what": what, "do": do})


def _text(value: object) -> str:
    if value is None:
        raise refuse("no-value", "the key has no value", _NO_VALUE)
    if not isinstance(value, str):
        raise refuse(
            "not-one-value", "a single value is wanted here", "write one value behind the colon"
        )
    for character in value:
        if unicodedata.category(character) in HIDDEN and character not in "\n\t":
            what = f"the value holds U+{ord(character):04X}, a character that cannot be seen"
            raise refuse("odd-character", what, "type the value again")
    return value.strip()


def number_of(value: object) -> float:
    """Return the number that the text is; refuse everything else."""
    text = _text(value)
    if re.fullmatch(_NUMBER, text) and math.isfinite(number := float(text)):
        return number + 0.0  # minus zero is zero
    raise refuse("not-a-number", f"{quoted(text)} is not a number", _number_advice(text))


def _number_advice(text: str) -> str:
    if re.fullmatch(r"[0-9]+,[0-9]+", text):
        return f"write the decimal mark as a point: {text.replace(',', '.')}"
    if re.fullmatch(r"[0-9]{1,3}(?:[_ '][0-9]{3})+", text):
        return f"write the digits without gaps: {re.sub('[^0-9]', '', text)}"
    if re.match(r"[+-]?[0-9.,]+\s*(?![eE][+-]?[0-9])[^\W\d_]", text) or text.endswith("%"):
        return "write the number alone, without a unit"
    return "write a plain number"


def whole_number_of(value: object) -> int:
    """Return the whole number that the text is."""
    text = _text(value)
    if re.fullmatch(r"[0-9]{1,9}", text):
        return int(text)
    raise refuse(
        "not-a-whole-number",
        f"{quoted(text)} is not a whole number",
        "write digits only, such as 3",
    )


def date_of(value: object) -> date:
    """Return the calendar day that the text is."""
    text = _text(value)
    do = "write year-month-day, such as 2026-09-01"
    if not _DATE.fullmatch(text):
        raise refuse("not-a-date", f"{quoted(text)} is not a date", do)
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise refuse("not-a-date", f"there is no day {quoted(text)}", do) from error


def word_of(value: object) -> str:
    """Return text that is not empty."""
    text = _text(value)
    if not text:
        raise refuse("no-value", "the key has no value", _NO_VALUE)
    return text


def list_of(value: object) -> list[object]:
    """Return a list that is not empty; a single value counts as a list of one."""
    if isinstance(value, str):
        return [value]
    do = "write [one, two] or lines that begin with -"
    if not isinstance(value, list):
        raise refuse("not-a-list", "a list is wanted here", do)
    if not value:
        raise refuse("no-value", "the list is empty", f"{do}, or delete the key")
    return value


def yes_no_of(value: object) -> bool:
    """Return yes or no, in the spellings that YAML knows."""
    text = _text(value)
    if text.casefold() in {"yes", "true", "on"}:
        return True
    if text.casefold() in {"no", "false", "off"}:
        return False
    raise refuse("not-yes-or-no", f"{quoted(text)} is neither yes nor no", "write yes or no")


class OneOf:
    """A field that takes just these words, compared without case."""

    def __init__(self, words: tuple[str, ...]) -> None:
        self.words = words

    def choose(self, value: object) -> str:
        """Return the word as the model has it."""
        text = _text(value)
        for word in self.words:
            if text.casefold() == word.casefold():
                return word
        what = f"{quoted(text)} is not one of the choices"
        raise refuse("not-a-choice", what, "write " + " or ".join(self.words))

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return no_info_before_validator_function(self.choose, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {**handler(schema), "enum": list(self.words)}


def one_of(*words: str) -> OneOf:
    """Return the annotation of a field that takes just these words."""
    return OneOf(words)


_WORD: dict[str, Any] = {"type": ["string", "number"]}  # to an editor 1041 is a number


def _schema(**schema: Any) -> WithJsonSchema:  # noqa: ANN401 -- JSON Schema is that loose
    return WithJsonSchema(schema)


NumberField = Annotated[float, BeforeValidator(number_of)]
CountField = Annotated[int, BeforeValidator(whole_number_of), Field(ge=0)]
DateField = Annotated[date, BeforeValidator(date_of)]
WordField = Annotated[str, BeforeValidator(word_of), _schema(**_WORD)]
WordsField = Annotated[
    tuple[WordField, ...],
    BeforeValidator(list_of),
    _schema(type=["array", "string", "number"], items=_WORD, minItems=1),
]
NumbersField = Annotated[
    tuple[NumberField, ...],
    BeforeValidator(list_of),
    _schema(type=["array", "number"], items={"type": "number"}, minItems=1),
]
YesNoField = Annotated[bool, BeforeValidator(yes_no_of)]
