"""The readings of a negative on one scale: net densities over its clear film."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from gatekeeper.measures.density import density as density_of
from gatekeeper.sheet import Bound, Negative, Patch, PatchKind, ZeroedOn

NEAR_ZERO = 0.02
"""Clear film that reads this low was zeroed on: no film base is that clear over air (common practice: 0.03 and up)."""


class Zero(StrEnum):
    """What the densities of a sheet are over, as far as it can be known."""

    CLEAR = "clear"
    AIR = "air"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class NetPatch:
    """A patch with its net density; None where it was read as a dot only or the zero is not known."""

    patch: Patch
    net: float | None
    bound: Bound


@dataclass(frozen=True, slots=True)
class Measured:
    """A negative and its readings on one scale."""

    negative: Negative
    zero: Zero
    base: float | None  # density of the clear film over air; None where the meter was zeroed on it
    patches: tuple[NetPatch, ...]
    zero_note: str = ""

    def of(self, kind: PatchKind) -> tuple[NetPatch, ...]:
        """Patches of one kind that carry a density, in the order read."""
        return tuple(
            entry for entry in self.patches if entry.patch.kind is kind and entry.net is not None
        )


def raw_density(patch: Patch) -> tuple[float, Bound] | None:
    """Return the density as read, from a density or a transmittance, or None where the patch has neither."""
    if patch.density is not None:
        return patch.density.value, patch.density.bound
    reading = patch.transmittance_percent
    if reading is None or reading.value <= 0:
        return None
    turned = {
        Bound.EXACT: Bound.EXACT,
        Bound.AT_LEAST: Bound.AT_MOST,
        Bound.AT_MOST: Bound.AT_LEAST,
    }
    return float(density_of(reading.value / 100.0)), turned[reading.bound]


def measure(negative: Negative) -> Measured:
    """Return the negative with net densities, or with none where the sheet does not say what they are over."""
    raw = [(patch, raw_density(patch)) for patch in negative.patches]
    clear = [
        read[0]
        for patch, read in raw
        if read and patch.kind is PatchKind.CLEAR and read[1] is Bound.EXACT
    ]
    zero, note = _zero(negative.zeroed_on, clear)
    base = sum(clear) / len(clear) if zero is Zero.AIR and clear else None
    known = zero is Zero.CLEAR or base is not None
    return Measured(
        negative=negative,
        zero=zero,
        base=base,
        patches=tuple(
            NetPatch(
                patch,
                read[0] - (base or 0.0) if read and known else None,
                read[1] if read else Bound.EXACT,
            )
            for patch, read in raw
        ),
        zero_note=note,
    )


def _zero(stated: ZeroedOn | None, clear: list[float]) -> tuple[Zero, str]:
    if stated is ZeroedOn.CLEAR:
        return Zero.CLEAR, ""
    if stated is ZeroedOn.AIR:
        if clear:
            return Zero.AIR, ""
        return Zero.UNKNOWN, "the meter was zeroed on air, but no clear patch was read to subtract"
    if clear and all(abs(value) <= NEAR_ZERO for value in clear):
        return (
            Zero.CLEAR,
            "the sheet does not say what the meter was zeroed on; its clear patches read zero",
        )
    return (
        Zero.UNKNOWN,
        "the sheet does not say whether the meter was zeroed on clear film or on air",
    )
