"""The block `tell` of site.yaml: which command is told of verdicts."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import AfterValidator, Field

from gatekeeper.wording import quoted
from gatekeeper.yamlfiles.fields import Block, NumberField, WordsField, refuse

WORDS = ("job", "workflow", "customer", "decision", "was", "folder", "ticket", "reason", "site")
"""What stands in braces in an argument."""

FREE = frozenset({"job", "customer", "reason"})
"""Words that come from sheets and may begin with a dash."""

_BRACES = re.compile(r"\{([^{}]*)\}")


def _command(words: tuple[str, ...]) -> tuple[str, ...]:
    if not words[0].startswith("/"):
        what = f"the command {quoted(words[0])} is not a whole path"
        raise refuse("not-a-path", what, "write it from the root, such as /usr/local/bin/tell")
    if _BRACES.search(words[0]):
        what = "the command itself may not depend on a job"
        raise refuse("command-of-a-sheet", what, "give the job as an argument")
    for word in words[1:]:
        _check_argument(word)
    return words


def _check_argument(word: str) -> None:
    for name in _BRACES.findall(word):
        if name not in WORDS:
            what = f"the argument {quoted(word)} names {quoted(name)}, which no verdict has"
            raise refuse("unknown-word", what, f"write one of {', '.join(WORDS)}")
    first = _BRACES.match(word)
    if first and first[1] in FREE:
        what = f"the argument {quoted(word)} begins with what a sheet says"
        do = f"write --{first[1]}={word}: a job that is called -x would pass for an option"
        raise refuse("option-of-a-sheet", what, do)


class TellBlock(Block):
    """Other software that is told of each verdict."""

    command: Annotated[WordsField, AfterValidator(_command)] = Field(
        description="program and arguments; {job}, {decision} and others stand for the verdict's"
    )
    limit_s: NumberField = Field(
        default=30.0, gt=0, le=3600, description="time after which the command is ended (s)"
    )
