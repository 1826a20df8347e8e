"""Sections of rules beyond the film itself: how the decision is made."""

from __future__ import annotations

from typing import Annotated

from gatekeeper.rules.keys import Stricter, limit, setting
from gatekeeper.yamlfiles.fields import Block, NumberField, one_of


class DensityRange(Block):
    """Solid over clear film: what the plate sees of the negative."""

    min: NumberField | None = limit(
        "density", Stricter.HIGHER, "lowest of weakest solid less darkest clear patch"
    )


RuleField = Annotated[str, one_of("plain", "guarded")]


class Decision(Block):
    """What the meter's doubt means for the decision."""

    rule: RuleField | None = setting(
        "", Stricter.GUARDED, "plain: readings are compared; guarded: less a part of their doubt"
    )
    guard: NumberField | None = setting(
        "times U", Stricter.HIGHER, "guard band as a multiple of the expanded uncertainty"
    )
