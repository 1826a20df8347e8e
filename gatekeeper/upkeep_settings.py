"""The block `upkeep` of site.yaml: what is done when, by the room's own clock."""

from __future__ import annotations

import re
from datetime import time
from typing import Annotated

from pydantic import BeforeValidator, Field, WithJsonSchema

from gatekeeper.wording import quoted
from gatekeeper.yamlfiles.fields import Block, CountField, refuse

_TIME = re.compile(r"(?P<hour>[01]?[0-9]|2[0-3]):(?P<minute>[0-5][0-9])")


def time_of(value: object) -> time:
    """Return the time of day that the text is; refuse everything else."""
    if isinstance(value, str) and (found := _TIME.fullmatch(value.strip())):
        return time(int(found["hour"]), int(found["minute"]))
    what = f"{quoted(value)} is not a time of day" if isinstance(value, str) else "a time is wanted"
    raise refuse("not-a-time", what, 'write hours and minutes in quotes, such as "07:00"')


TimeField = Annotated[
    time,
    BeforeValidator(time_of),
    WithJsonSchema({"type": "string", "pattern": "^([01]?[0-9]|2[0-3]):[0-5][0-9]$"}),
]


class UpkeepBlock(Block):
    """What the daemon does by itself, once a day; times are the room's own."""

    check_at: TimeField | None = Field(
        default=time(5, 30),
        description="time at which all that stands in approved is compared with its verdicts",
    )
    digest_at: TimeField | None = Field(
        default=None, description="time of the daily digest, as a file and by mail"
    )
    backup_at: TimeField | None = Field(
        default=None, description="time of the nightly copy of the history"
    )
    keep_days: CountField = Field(
        default=14, ge=1, description="how long each nightly copy is kept (days)"
    )
    keep_months: CountField = Field(
        default=12, description="how long the first copy of each month is kept (months)"
    )
    archive_at: TimeField | None = Field(
        default=None, description="time at which old approved jobs are moved to the archive"
    )
    archive_after_days: CountField = Field(
        default=90, ge=1, description="age of an approved job that is moved (days)"
    )
