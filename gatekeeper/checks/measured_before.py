"""What each measurement of a negative gave: said in the report of a job that was measured again."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from gatekeeper.checks.measured import Measured, measure
from gatekeeper.checks.registry import run_checks
from gatekeeper.sheet import PatchKind
from gatekeeper.verdict import MEASURED, READING, Outcome, Status
from gatekeeper.wording import counted, listing, plain, shortest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.checks.interface import Subject
    from gatekeeper.earlier import Earlier

UNKNOWN = "its readings are not known any more"
OTHER_FILM = "of a film printed at another time"
HARMLESS = {Outcome.PASS, Outcome.NOTE}


def status_of_measurements(subject: Subject) -> Iterator[Status]:
    """Yield how often the separation was measured, and a line for each time; nothing for once."""
    if not subject.earlier:
        return
    separation = subject.negative.separation_name
    of_this_film = 1 + sum(before.is_same_film for before in subject.earlier)
    in_all = 1 + len(subject.earlier)
    says = counted(of_this_film, "time")
    if in_all > of_this_film:
        says += f", and {counted(in_all - of_this_film, 'time')} {OTHER_FILM}"
    yield Status(MEASURED, says, separation)
    for number, before in enumerate(subject.earlier, start=1):
        yield Status(f"{READING}{number}", _told(subject, before), separation)
    yield Status(f"{READING}{in_all}", f"{gave(subject.measured)}; counts", separation)


def _told(subject: Subject, before: Earlier) -> str:
    """Return one measurement: its sheet, what it gave, and what it missed of today's rules."""
    name = plain(before.sheet.name)
    if not before.negative.patches:
        return f"{name}: {UNKNOWN}"
    measured = measure(before.negative)
    earlier = replace(subject, measured=measured, earlier=())
    missed = [found.rule for found in run_checks(earlier) if found.outcome not in HARMLESS]
    parts = [
        gave(measured),
        f"missed {listing(dict.fromkeys(missed), most=4)}" if missed else "met every limit",
        "" if before.is_same_film else OTHER_FILM,
    ]
    moment = before.negative.measured
    when = f", {plain(moment.written)}" if moment else ""
    return f"{name}{when}: {'; '.join(filter(None, parts))}"


def gave(measured: Measured) -> str:
    """Return what a measurement gave in a few words: its solids, and each tint as it was read."""
    solids = [entry.net for entry in measured.of(PatchKind.SOLID) if entry.net is not None]
    parts = [f"solid {_span(solids)}"] if solids else []
    for patch in measured.negative.patches_of(PatchKind.TINT):
        read = patch.dot_percent or patch.density
        if patch.nominal and read:
            unit = "%" if read is patch.dot_percent else "density"
            parts.append(f"{shortest(patch.nominal.value)} % tint {read.value:.4g} {unit}")
    return ", ".join(parts) or "neither a solid nor a tint was read"


def _span(values: list[float]) -> str:
    lowest, highest = f"{min(values):.2f}", f"{max(values):.2f}"
    return lowest if lowest == highest else f"{lowest} to {highest}"
