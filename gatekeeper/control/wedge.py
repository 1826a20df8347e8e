"""A wedge: what was asked for and what was read, and whether a curve may be built from it.

Asks     which printer, film and workflow it is for; at least `FEWEST_TINTS` different tints; the
         curve through which it was printed, or `none`: a guess would be built into the new curve.
Setting  a curve is for the ruling and the resolution of its wedge; where the sheet leaves one out
         it stands for all of them, and the report says so.
Refused  a wedge with a customer: that is the sheet of a negative with a slip in it.
Source   common practice; dots as the rules of the workflow take them (`checks.dots`).
Pure     no file, no clock, no database.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from gatekeeper.checks.advice import ASK_NAME, CHECK_SHEET, FILL_IN, MEASURE_AGAIN
from gatekeeper.checks.dots import dots_of
from gatekeeper.checks.interface import Subject
from gatekeeper.checks.measured import measure
from gatekeeper.control.answers import Figures, held, note, passed
from gatekeeper.control.curve_table import Correction
from gatekeeper.register.made_for import of_entry, of_negative
from gatekeeper.rules.library import UnknownNameError
from gatekeeper.sheet import PatchKind
from gatekeeper.wording import did_you_mean, fold, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime, tzinfo

    from gatekeeper.checks.measured import NetPatch
    from gatekeeper.register.made_for import MadeFor
    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules
    from gatekeeper.rules.library import Library
    from gatekeeper.sheet import Negative
    from gatekeeper.verdict import Finding

NAMES: Final = "wedge.names"
NO_JOB: Final = "wedge.no_job"
PATCHES: Final = "wedge.patches"
THROUGH: Final = "wedge.through"
WEDGE_RULES: Final = (NAMES, NO_JOB, PATCHES, THROUGH)
"""What must pass before a curve is built."""

FEWEST_TINTS: Final = 5
"""Different tints between 0 and 100: with fewer, none can be told from the bend of the curve."""

WITHOUT: Final = "none"
"""What a sheet says of a wedge that was printed without a curve."""

_WHOLE: Final = 100.0


@dataclass(frozen=True, slots=True)
class Room:
    """What a wedge is read against."""

    library: Library
    register: Register
    arrived: datetime
    zone: tzinfo


@dataclass(frozen=True, slots=True)
class WedgePatch:
    """One step of the wedge, in percent of dot, and where it stands."""

    nominal: float
    measured: float
    where: str


@dataclass(frozen=True, slots=True)
class Wedge:
    """A wedge that a curve may be built from."""

    workflow: str
    printer: str
    stock: str
    lot: str
    resolution_dpi: float | None
    ruling_lpi: float | None
    measured_at: datetime
    through: str  # name of the curve through which it was printed; empty for none
    sent_by: Correction | None  # that curve
    in_use: Correction | None  # the one that the register has in use then, if its table is known
    patches: tuple[WedgePatch, ...]


def read_wedge(
    negative: Negative, room: Room, dropped_in: str
) -> tuple[Wedge | None, tuple[Finding, ...]]:
    """Return the wedge of a sheet, and the findings about it; no wedge where one of them holds.

    Parameters
    ----------
    dropped_in : workflow of the drop folder, empty for none
    """
    workflow = negative.workflow.value if negative.workflow else dropped_in
    rules, unknown = _rules(room.library, workflow)
    findings = [*_names(negative, room.register, workflow, unknown), _no_job(negative)]
    lot = room.register.lot(negative.film_lot.value) if negative.film_lot else None
    if rules is None or lot is None or negative.printer is None:
        return None, tuple(findings)
    patches, refused = _patches(negative, rules, room)
    findings += refused or [passed(PATCHES, f"{len(patches)} tints could be used")]
    made_for = of_negative(negative, rules.workflow, lot.stock)
    curve, finding = _through(negative, room.register, made_for)
    findings += [finding, *_setting(made_for)]
    if any(finding.do for finding in findings):
        return None, tuple(findings)
    at = negative.printed or negative.measured
    wedge = Wedge(
        workflow=rules.workflow,
        printer=negative.printer.value,
        stock=lot.stock,
        lot=negative.film_lot.value if negative.film_lot else "",
        resolution_dpi=made_for.resolution_dpi,
        ruling_lpi=made_for.ruling_lpi,
        measured_at=(at.instant if at else room.arrived).astimezone(room.zone),
        through=negative.curve.value if negative.curve and curve else "",
        sent_by=curve,
        in_use=_in_use(room, made_for) or curve,
        patches=tuple(patches),
    )
    return wedge, tuple(findings)


def _in_use(room: Room, made_for: MadeFor) -> Correction | None:
    day = room.arrived.astimezone(room.zone).date()
    entry = room.register.curve(made_for, day)
    return Correction(entry.correction) if entry and entry.correction else None


def _rules(library: Library, workflow: str) -> tuple[EffectiveRules | None, str]:
    try:
        return library.effective(workflow, ""), ""
    except UnknownNameError as error:
        if not workflow:
            return None, "neither the drop folder nor the sheet names a workflow"
        near = did_you_mean(workflow, error.known)
        return None, f"no workflow is called {quoted(workflow)}; {near}"


def _names(
    negative: Negative, register: Register, workflow: str, unknown: str
) -> Iterator[Finding]:
    troubles = [unknown] if unknown else []
    for what, text, known in (
        ("printer", negative.printer, register.printers),
        ("film lot", negative.film_lot, register.lots),
    ):
        if text is None:
            troubles.append(f"the sheet does not say which {what} the wedge was printed with")
        elif fold(text.value) not in map(fold, known) and (known or what == "film lot"):
            near = did_you_mean(text.value, known)
            troubles.append(f"the {what} {quoted(text.value)} is not in the register; {near}")
    for says in troubles:
        yield held(NAMES, says, do=(FILL_IN, ASK_NAME))
    if not troubles:
        # The workflow is kept: the sheet need not name it, and the shelf does not tell.
        says = "workflow, printer and film lot are known"
        yield passed(NAMES, says, figures=Figures(measured=workflow))


def _no_job(negative: Negative) -> Finding:
    if negative.customer is None:
        return passed(NO_JOB, "the wedge is nobody's job")
    says = (
        f"the sheet says that it is a wedge, and names the customer "
        f"{quoted(negative.customer.value)}: is it the sheet of a negative?"
    )
    return held(NO_JOB, says, do=(CHECK_SHEET,), trace=negative.customer.trace)


def _patches(
    negative: Negative, rules: EffectiveRules, room: Room
) -> tuple[list[WedgePatch], list[Finding]]:
    subject = Subject(measure(negative), rules, room.register, room.arrived, room.zone)
    found: list[WedgePatch] = []
    refused: list[Finding] = []
    for entry in subject.measured.patches:
        if entry.patch.kind is not PatchKind.TINT or entry.patch.nominal is None:
            continue
        dots, reason = dots_of(subject, entry)
        if dots:
            nominal = entry.patch.nominal.value
            found.append(WedgePatch(nominal, dots[0].value, _where(entry)))
        else:
            says = f"the {entry.patch.nominal.written} % tint cannot be used: {reason}"
            refused.append(held(PATCHES, says, do=(MEASURE_AGAIN,), trace=entry.patch.trace))
    between = {patch.nominal for patch in found if 0.0 < patch.nominal < _WHOLE}
    if len(between) < FEWEST_TINTS and not refused:
        says = (
            f"the wedge has {len(between)} different tints between 0 and 100 %; "
            f"a curve needs {FEWEST_TINTS} or more"
        )
        figures = Figures(len(between), FEWEST_TINTS, "tints")
        refused.append(held(PATCHES, says, do=(MEASURE_AGAIN, CHECK_SHEET), figures=figures))
    return found, refused


def _where(entry: NetPatch) -> str:
    return entry.patch.where or entry.patch.name or str(entry.patch.trace)


def _setting(made_for: MadeFor) -> Iterator[Finding]:
    if made_for.missing:
        says = (
            f"the sheet does not say the {made_for.missing} of the wedge: its curve will stand for "
            "every one that has no curve of its own since"
        )
        yield note("wedge.setting", says)


def _through(
    negative: Negative, register: Register, made_for: MadeFor
) -> tuple[Correction | None, Finding]:
    """Return the curve through which the wedge was printed, None for none, and the finding."""
    known = {
        fold(entry.name): entry
        for _, entry in register.curves_of(made_for)
        if entry.name and of_entry(entry).serves(made_for)
    }
    if negative.curve is None:
        says = (
            "the sheet does not say through which curve the wedge was printed; "
            f"write `curve,{WITHOUT}` or the name of the curve"
        )
        return None, held(THROUGH, says, do=(FILL_IN,))
    name = negative.curve.value
    if fold(name) == WITHOUT:
        return None, passed(THROUGH, "printed without a curve")
    entry = known.get(fold(name))
    if entry is None:
        near = did_you_mean(name, [curve.name or "" for curve in known.values()])
        setting = f" for {made_for.setting}" if made_for.setting else ""
        says = (
            f"no curve of this printer, film and workflow{setting} is called {quoted(name)}; "
            f"{_other_setting(name, register, made_for) or near}"
        )
        return None, held(THROUGH, says, do=(ASK_NAME,), trace=negative.curve.trace)
    if entry.correction is None:
        says = f"the table of the curve {quoted(name)} is not on record: print without a curve"
        return None, held(THROUGH, says, do=(ASK_NAME,), trace=negative.curve.trace)
    return Correction(entry.correction), passed(THROUGH, f"printed through {quoted(name)}")


def _other_setting(name: str, register: Register, made_for: MadeFor) -> str:
    """Say for which setting the curve of this name is, and what the sheet leaves out."""
    settings = [
        of_entry(entry).setting
        for _, entry in register.curves_of(made_for)
        if entry.name and fold(entry.name) == fold(name)
    ]
    if not settings:
        return ""
    lacks = f", and the sheet does not say the {made_for.missing}" if made_for.missing else ""
    return f"that one is for {settings[0]}{lacks}"
