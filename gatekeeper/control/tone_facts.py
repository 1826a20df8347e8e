"""What a tone curve draws: the wedge, the curve in use and the new one, side by side. Pure.

Units    percent dot area.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.control.curve_table import evenly
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from gatekeeper.control.curve import BuiltCurve


@dataclass(frozen=True, slots=True)
class ToneStep:
    """One line of the table; `now` is None where the wedge was printed without a curve."""

    wanted: float
    now: float | None
    new: float
    predicted: float


@dataclass(frozen=True, slots=True)
class ToneReading:
    """One patch of the wedge."""

    sent: float
    measured: float
    where: str
    is_outlier: bool


@dataclass(frozen=True, slots=True)
class ToneFacts:
    """One curve, ready to be laid out."""

    title: str
    workflow: str
    printer: str
    stock: str
    state: str  # in use, former, candidate, superseded
    steps: tuple[ToneStep, ...]
    readings: tuple[ToneReading, ...]
    mid_tone: float
    read_how: str  # what that is the reading of: "now", or "without a curve"
    mid_tone_predicted: float
    error: float
    leave_one_out: float
    setting: str = ""  # "65 lpi at 1440 dpi"; empty for every ruling and resolution


def tone_facts(curve: BuiltCurve, state: str) -> ToneFacts:
    """Return what to draw of a curve."""
    before: tuple[float | None, ...] = curve.before or (None,) * len(curve.steps)
    wanted = evenly(len(curve.steps))
    return ToneFacts(
        title=plain(curve.name, 200),
        workflow=plain(curve.workflow),
        printer=plain(curve.printer),
        stock=plain(curve.stock),
        state=state,
        steps=tuple(
            ToneStep(*line)
            for line in zip(wanted, before, curve.steps, curve.predicted, strict=True)
        ),
        readings=tuple(
            ToneReading(patch.sent, patch.measured, plain(patch.where), patch.is_outlier)
            for patch in curve.patches
        ),
        mid_tone=curve.mid_tone,
        read_how=curve.read_how,
        mid_tone_predicted=curve.predicted_mid_tone,
        error=curve.error,
        leave_one_out=curve.leave_one_out,
        setting=curve.made_for.setting,
    )
