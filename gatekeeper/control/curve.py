"""A curve built from one wedge or several: what to send, how far to trust it, what it will do.

Units    percent dot area throughout.
Sources  the tone and its correction as in `measures.tone`. The stated error is twice the root sum
         of squares (GUM, k = 2) of what leaving each step out gives and of what a film and its
         reading repeat to.
Pure     no file, no clock.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from gatekeeper.checks.advice import MEASURE_AGAIN, WEDGE
from gatekeeper.control.answers import Figures, held, note, passed
from gatekeeper.control.curve_table import STEPS, Correction, as_typed, evenly
from gatekeeper.control.wedge import FEWEST_TINTS
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.tone import linearize
from gatekeeper.register.made_for import MadeFor
from gatekeeper.wording import counted, listing

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gatekeeper.control.wedge import Wedge, WedgePatch
    from gatekeeper.measures.tone import ToneCurve
    from gatekeeper.verdict import Finding

FIT: Final = "wedge.fit"
"""What must pass besides `WEDGE_RULES` before a curve is a candidate."""

MOST_LEFT_OUT: Final = 2.0
"""Percent: a curve that is known no better cannot keep the usual tolerance of a tint."""

MOST_OUTLIERS: Final = 0.2
"""Share of patches that may be set aside; with more it is not the patches that are wrong."""

REPEAT: Final = 0.5
"""Percent to which one film and its reading repeat, as a standard deviation (common practice)."""

COVERAGE: Final = 2.0
MID_TONE: Final = 50.0


@dataclass(frozen=True, slots=True)
class Patch:
    """One step of the wedge as the curve sees it."""

    nominal: float
    sent: float
    measured: float
    residual: float
    left_out: float
    where: str
    is_outlier: bool = False


@dataclass(frozen=True, slots=True)
class BuiltCurve:
    """A curve, ready to be looked at and accepted.

    Attributes
    ----------
    name : what sheets will call it
    made : day of its wedge, ISO 8601
    through : curve through which the wedge was printed; empty for none
    steps : percent to send for `evenly(len(steps))`, as typed
    before : what the curve in use sends for the same; empty where no table of one is on record
    predicted : reading to expect for each of those percents, through `steps`
    patches : the wedge, outliers included
    leave_one_out : root mean square of leaving each step out, percent
    mid_tone : reading of a 50 % tint through the curve in use; without any where `before` is empty
    sources : SHA-256 of the sheets that it was built from
    """

    name: str
    workflow: str
    printer: str
    stock: str
    lot: str
    made: str
    through: str
    resolution_dpi: float | None
    ruling_lpi: float | None
    steps: tuple[float, ...]
    before: tuple[float, ...]
    predicted: tuple[float, ...]
    patches: tuple[Patch, ...]
    leave_one_out: float
    mid_tone: float
    sources: tuple[str, ...] = ()

    @property
    def made_for(self) -> MadeFor:
        """Where the curve belongs."""
        return MadeFor(
            self.workflow, self.printer, self.stock, self.resolution_dpi, self.ruling_lpi
        )

    @property
    def error(self) -> float:
        """How far a reading may lie from its prediction, percent, about 95 %."""
        return COVERAGE * math.hypot(self.leave_one_out, REPEAT)

    @property
    def read_how(self) -> str:
        """What `mid_tone` is the reading of, in words."""
        return "now" if self.before else "without a curve"

    @property
    def predicted_mid_tone(self) -> float:
        """Reading to expect of a 50 % tint through this curve."""
        return self.predicted[len(self.predicted) // 2]

    @property
    def outliers(self) -> tuple[Patch, ...]:
        """Patches that do not go with the others and were set aside."""
        return tuple(patch for patch in self.patches if patch.is_outlier)

    def is_for_the_same(self, other: BuiltCurve) -> bool:
        """Whether the other curve serves the same workflow, printer, film and setting."""
        return self.made_for.is_same(other.made_for)


def build(wedge: Wedge) -> tuple[BuiltCurve | None, tuple[Finding, ...]]:
    """Return the curve of a wedge, and the findings about how well it fits."""
    try:
        first = _tone(wedge, wedge.patches)
        odd = set(first.outliers)
        kept = [patch for index, patch in enumerate(wedge.patches) if index not in odd]
        is_enough = len({patch.nominal for patch in kept}) >= FEWEST_TINTS
        tone = _tone(wedge, kept) if odd and is_enough else first
    except MeasureError as error:
        says = f"no curve can be built: {error}"
        return None, (held(FIT, says, do=(MEASURE_AGAIN, WEDGE)),)
    findings = tuple(_fit(wedge.patches, odd, tone))
    if any(finding.do for finding in findings):
        return None, findings
    return _curve(wedge, tone, odd), findings


def _tone(wedge: Wedge, patches: Sequence[WedgePatch]) -> ToneCurve:
    return linearize(
        [patch.nominal for patch in patches],
        [patch.measured for patch in patches],
        in_use=wedge.sent_by,
    )


def _fit(patches: Sequence[WedgePatch], odd: set[int], tone: ToneCurve) -> Iterator[Finding]:
    if odd:
        named = listing(
            f"{patches[index].nominal:g} % ({patches[index].where})" for index in sorted(odd)
        )
        says = f"{counted(len(odd), 'patch', 'patches')} did not go with the others: {named}"
        if len(odd) > MOST_OUTLIERS * len(patches):
            yield held(FIT, f"{says}; too many to be set aside", do=(MEASURE_AGAIN, WEDGE))
            return
        yield note("wedge.outliers", f"{says}; set aside")
    figures = Figures(tone.leave_one_out, MOST_LEFT_OUT, "percent")
    if not tone.leave_one_out <= MOST_LEFT_OUT:
        says = "its steps agree too badly with each other for a curve to be trusted between them"
        yield held(FIT, says, do=(MEASURE_AGAIN, WEDGE), figures=figures)
        return
    yield passed(FIT, "each step lies where the others let it expect", figures=figures)


def _curve(wedge: Wedge, tone: ToneCurve, odd: set[int]) -> BuiltCurve:
    steps = as_typed([step.corrected for step in tone.table(STEPS)])
    typed = Correction(steps)
    in_use = wedge.in_use
    wanted = evenly(STEPS)
    day = wedge.measured_at.date().isoformat()
    return BuiltCurve(
        name=f"{wedge.printer} {wedge.stock} {wedge.workflow} {day}",
        workflow=wedge.workflow,
        printer=wedge.printer,
        stock=wedge.stock,
        lot=wedge.lot,
        made=day,
        through=wedge.through,
        resolution_dpi=wedge.resolution_dpi,
        ruling_lpi=wedge.ruling_lpi,
        steps=steps,
        before=tuple(in_use(step) for step in wanted) if in_use else (),
        predicted=tuple(tone.predict(typed(step)) for step in wanted),
        patches=tuple(_patches(wedge, tone, odd)),
        leave_one_out=tone.leave_one_out,
        mid_tone=tone.predict(in_use(MID_TONE) if in_use else MID_TONE),
    )


def _patches(wedge: Wedge, tone: ToneCurve, odd: set[int]) -> Iterator[Patch]:
    kept = iter(zip(tone.sent, tone.residuals, tone.left_out_errors, strict=True))
    for index, patch in enumerate(wedge.patches):
        is_kept = index not in odd or len(tone.nominal) == len(wedge.patches)
        if is_kept:
            sent, residual, left_out = next(kept)
        else:
            sent = wedge.sent_by(patch.nominal) if wedge.sent_by else patch.nominal
            residual = left_out = patch.measured - tone.predict(sent)
        yield Patch(
            nominal=patch.nominal,
            sent=sent,
            measured=patch.measured,
            residual=residual,
            left_out=left_out,
            where=patch.where,
            is_outlier=index in odd,
        )


_KIND = {
    "workflow": "workflow",
    "printer": "printer",
    "stock": "stock",
    "resolution_dpi": "resolution (dpi)",
    "ruling_lpi": "ruling (lpi)",
    "through": "through",
}
"""What wedges of one kind have in common, and how people call it."""


def together(wedges: Sequence[Wedge]) -> Wedge:
    """Return several wedges of one printer, film, workflow, setting and curve in use as one.

    Raises
    ------
    ValueError : they are not of one kind, with what differs
    """
    first = wedges[0]
    for other in wedges[1:]:
        for what, words in _KIND.items():
            ours, theirs = getattr(first, what), getattr(other, what)
            if ours != theirs:
                raise ValueError(words, ours or "none", theirs or "none")
    newest = max(wedges, key=lambda wedge: wedge.measured_at)
    return replace(newest, patches=tuple(patch for wedge in wedges for patch in wedge.patches))
