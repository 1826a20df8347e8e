"""How well a reading is known, and how likely the true value is to keep its limit, as text.

A probability is never rounded to certainty: what is not quite 0 or 100 % is not shown as such.
"""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from gatekeeper.show.numbers import digits, with_unit
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from gatekeeper.verdict import Finding

NEARLY_CERTAIN = "over 99.9 %"

_LEAST, _MOST = 0.001, 0.999


def doubt_of(finding: Finding) -> str:
    """Return the expanded uncertainty with its unit, empty where nobody knows it."""
    doubt = finding.uncertainty
    if doubt is None or not isfinite(doubt):
        return ""
    return f"+/- {with_unit(digits(doubt), plain(finding.unit, 20))} (k = 2)"


def odds_of(finding: Finding) -> str:
    """Return the probability that the true value conforms, empty where nobody knows it."""
    odds = finding.probability
    if odds is None or not isfinite(odds):
        return ""
    if odds < _LEAST:
        return "under 0.1 %"
    if odds > _MOST:
        return NEARLY_CERTAIN
    return f"{100 * odds:.1f} %"
