"""Sheets about the room itself and not about a job: a wedge, a meter check, a meter study.

They go through the gate like any sheet, so that none is lost or read twice, but they stand on
shelves of their own, under names of their own: no folder of a job ever holds one, and none can
approve or hold a negative. Pure.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from gatekeeper.sheet import SheetKind
from gatekeeper.shelf_names import METER_CHECKS, METER_STUDIES, WEDGES

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import datetime, tzinfo

    from gatekeeper.sheet import Negative, Sheet, Text

SHELVES: Mapping[SheetKind, str] = MappingProxyType(
    {
        SheetKind.WEDGE: WEDGES,
        SheetKind.METER_CHECK: METER_CHECKS,
        SheetKind.METER_STUDY: METER_STUDIES,
    }
)
"""Where each kind is filed, in the place of a workflow's name."""


def is_about_the_room(sheet: Sheet | None) -> bool:
    """Whether a sheet is about the room and not about a job."""
    return sheet is not None and sheet.kind in SHELVES


def place_of(sheet: Sheet, *, dropped_in: str, arrived: datetime, zone: tzinfo) -> tuple[str, str]:
    """Return name and shelf of a sheet about the room.

    Parameters
    ----------
    dropped_in : workflow of the drop folder, empty for none
    arrived : moment that names it where the sheet does not say when it was measured
    zone : in which that moment is written

    Notes
    -----
    The moment is in the name, so a second check on the same day is a record of its own.
    """
    negative = sheet.negatives[0] if sheet.negatives else None
    measured = negative.measured if negative else None
    moment = (measured.instant if measured else arrived).astimezone(zone)
    words = list(_subject(sheet.kind, negative, dropped_in)) if negative else []
    return " ".join([*words, f"{moment:%Y-%m-%d %H.%M}"]), SHELVES[sheet.kind]


def _subject(kind: SheetKind, negative: Negative, dropped_in: str) -> Iterator[str]:
    if kind is SheetKind.WEDGE:
        texts: tuple[Text | None, ...] = (negative.printer, negative.film_lot)
        yield from (text.value for text in texts if text)
        workflow = negative.workflow.value if negative.workflow else dropped_in
        if workflow:
            yield workflow
    elif negative.meter:
        yield negative.meter.value
