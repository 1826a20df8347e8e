"""Limits that cannot be judged without a setting, and settings that contradict each other.

Source   a plate's floor begins to harden before its finest detail holds, and the main exposure must
         hold that detail: common practice.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from gatekeeper.rules.merge import BUILT_IN
from gatekeeper.yamlfiles.places import FileProblem

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from gatekeeper.rules.effective import Limit

Path = tuple[str, ...]

_FLOOR, _DETAIL, _MAIN = _DOSES = tuple(
    ("exposure", key) for key in ("floor_dose_mj_cm2", "detail_dose_mj_cm2", "main_exposure_mj_cm2")
)
"""Doses of a plate, from the smallest to the largest."""

NEEDS: Mapping[Path, tuple[Path, ...]] = {
    ("exposure", "min_margin_stops"): (_FLOOR, _MAIN),
    ("exposure", "min_window_stops"): (_FLOOR, _DETAIL),
    ("size", "tolerance_per_mille"): (("size", "tolerance_mm"),),
    ("size", "growth_ppm_per_c"): (("size", "reference_temperature_c"),),
    ("size", "growth_ppm_per_percent_rh"): (("size", "reference_humidity_percent"),),
}
"""By key, the others without which it says nothing."""


def need_problems(limits: Mapping[Path, Limit]) -> Iterator[FileProblem]:
    """Yield limits that lack a setting, at the line of the limit, and doses out of order."""
    for path, needed in NEEDS.items():
        limit = limits.get(path)
        missing = [key[-1] for key in needed if key not in limits]
        if limit and missing and limit.layer != BUILT_IN:
            what = f"{limit.rule} says nothing without {' and '.join(missing)}"
            do = f"add {' and '.join(f'`{key}:`' for key in missing)} to {path[0]}"
            yield FileProblem(limit.place, "no-setting", what, do)
    yield from _dose_problems(limits)


def _dose_problems(limits: Mapping[Path, Limit]) -> Iterator[FileProblem]:
    stated = [limits[path] for path in _DOSES if path in limits]
    for smaller, larger in pairwise(stated):
        if smaller.number > larger.number:
            what = (
                f"{smaller.rule} {smaller} ({smaller.origin}) is above "
                f"{larger.path[-1]} {larger} ({larger.origin})"
            )
            do = "the floor hardens first, then the detail holds, then comes the main exposure"
            yield FileProblem(larger.place, "doses-cross", what, do)
