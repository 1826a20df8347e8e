"""The checks in the order of a report. A new check is one module and one name here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks import (
    clear_density,
    control,
    density_range,
    dot,
    exposure,
    film,
    freshness,
    inspection,
    linearization,
    meter,
    plausibility,
    remeasuring,
    required,
    screen,
    size,
    solid_density,
    tints,
    tone_scale,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.checks.interface import Check, Subject
    from gatekeeper.verdict import Finding

CHECKS: tuple[Check, ...] = (
    required,
    plausibility,
    solid_density,
    clear_density,
    density_range,
    tints,
    dot,
    tone_scale,
    exposure,
    size,
    film,
    linearization,
    control,
    meter,
    screen,
    inspection,
    freshness,
    remeasuring,
)


def run_checks(subject: Subject) -> Iterator[Finding]:
    """Yield every check's findings about one negative."""
    for check in CHECKS:
        yield from check.judge(subject)
