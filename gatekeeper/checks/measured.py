"""The readings of a negative on one scale: net densities over its clear film."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from gatekeeper.measures.density import density as density_of
from gatekeeper.sheet import Bound, Negative, Patch, PatchKind, ZeroedOn

NEAR_ZERO = 0.02
"""Clear film that reads this low was zeroed on: over air no film base is that clear (common
practice: 0.03 and up)."""

NO_ZERO = "the sheet does not say whether the meter was zeroed on clear film or on air"
NO_CLEAR = "the meter was zeroed on air, but no clear patch was read to subtract"
SEEN_ZERO = "the sheet does not say what the meter was zeroed on; its clear patches read zero"
NO_LIGHT = "a transmittance of 0 % is no density: read the patch as a density"

TURNED = {
    Bound.EXACT: Bound.EXACT,
    Bound.AT_LEAST: Bound.AT_MOST,
    Bound.AT_MOST: Bound.AT_LEAST,
}
"""What a bound becomes where more of the one is less of the other."""


class Zero(StrEnum):
    """What the densities of a sheet are over, as far as it can be known."""

    CLEAR = "clear"
    AIR = "air"
    UNKNOWN = "unknown"


class NetPatch(NamedTuple):
    """A patch with its net density; None where it has no density, or nobody knows over what."""

    patch: Patch
    net: float | None
    bound: Bound

    @property
    def is_read(self) -> bool:
        """Whether the meter gave a density or a transmittance, be it of any use or not."""
        return self.patch.density is not None or self.patch.transmittance_percent is not None


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

    def why_unusable(self, kind: PatchKind) -> str:
        """Say why the densities of one kind cannot all be used; empty where they can."""
        of_kind = [entry for entry in self.patches if entry.patch.kind is kind and entry.is_read]
        if all(entry.net is not None for entry in of_kind):
            return "" if of_kind else f"the sheet has no density of a {kind} patch"
        return self.zero_note if self.zero is Zero.UNKNOWN else NO_LIGHT


def raw_density(patch: Patch) -> tuple[float, Bound] | None:
    """Return the density as read, from a density or a transmittance, None where there is none."""
    if patch.density is not None:
        return patch.density.value, patch.density.bound
    reading = patch.transmittance_percent
    if reading is None or reading.value <= 0:
        return None
    return float(density_of(reading.value / 100.0)), TURNED[reading.bound]


def measure(negative: Negative) -> Measured:
    """Return the negative with net densities, with none where nobody knows what they are over."""
    raw = [(patch, raw_density(patch)) for patch in negative.patches]
    clear = [
        read[0]
        for patch, read in raw
        if read and patch.kind is PatchKind.CLEAR and read[1] is Bound.EXACT
    ]
    zero, note = _zero(negative.zeroed_on, clear)
    base = sum(clear) / len(clear) if zero is Zero.AIR else None
    return Measured(
        negative=negative,
        zero=zero,
        base=base,
        patches=tuple(_net(patch, read, zero, base or 0.0) for patch, read in raw),
        zero_note=note,
    )


def _net(patch: Patch, read: tuple[float, Bound] | None, zero: Zero, base: float) -> NetPatch:
    if read is None or zero is Zero.UNKNOWN:
        return NetPatch(patch, None, read[1] if read else Bound.EXACT)
    return NetPatch(patch, read[0] - base, read[1])


def _zero(stated: ZeroedOn | None, clear: list[float]) -> tuple[Zero, str]:
    if stated is ZeroedOn.CLEAR:
        return Zero.CLEAR, ""
    if stated is ZeroedOn.AIR:
        return (Zero.AIR, "") if clear else (Zero.UNKNOWN, NO_CLEAR)
    if clear and all(abs(value) <= NEAR_ZERO for value in clear):
        return Zero.CLEAR, SEEN_ZERO
    return Zero.UNKNOWN, NO_ZERO
