"""How a finding's reading and limit are said: which way the limit points, with digits and units."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from math import copysign, isfinite
from typing import TYPE_CHECKING, NamedTuple, TypeGuard

from gatekeeper.show.numbers import compared, digits, with_unit
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from gatekeeper.verdict import Finding


class Direction(StrEnum):
    """What a limit asks of a reading, in the words of the report."""

    AT_LEAST = "at least"
    AT_MOST = "at most"
    AROUND = "+/-"
    ONE_OF = "one of"
    EXACTLY = "exactly"
    NO_SIGNAL_OF = "no signal of"
    UNKNOWN = ""


_LAST_KEYS = {
    "complete": Direction.EXACTLY,
    "spots": Direction.AT_LEAST,
    "spread": Direction.AT_MOST,
    "tolerance_mm": Direction.AT_MOST,
    "register_mm": Direction.AT_MOST,
    "cleaned": Direction.ONE_OF,
    "scratches": Direction.ONE_OF,
    "pinholes": Direction.ONE_OF,
    "emulsion": Direction.ONE_OF,
    "reads": Direction.ONE_OF,
    "clock_tolerance_minutes": Direction.AT_MOST,
    "sign_off_after": Direction.AT_MOST,
    "same_readings_days": Direction.AT_LEAST,
    "tolerance": Direction.AROUND,
    "stocks": Direction.ONE_OF,
    "hold_on": Direction.NO_SIGNAL_OF,
    "filters": Direction.ONE_OF,
    "resolution_dpi": Direction.ONE_OF,
}


_WHERE_NOTHING_WAS_FOUND = {"same_readings_days": "none within"}
"""What a limit asks where its answer is in words, since there was nothing to compare."""


@lru_cache(1_024)  # the rules of a site, each in every report
def direction_of(rule: str) -> Direction:
    """Return which way the limit of a rule points; its last key tells."""
    key = rule.rpartition(".")[2]
    if key in _LAST_KEYS:
        return _LAST_KEYS[key]
    parts = key.split("_")
    if "min" in parts:
        return Direction.AT_LEAST
    return Direction.AT_MOST if "max" in parts else Direction.UNKNOWN


@dataclass(frozen=True, slots=True)
class Edge:
    """A numeric reading and the number that it may just reach, in the finding's unit."""

    measured: float
    limit: float
    direction: Direction
    nominal: float | None = None  # the middle, for a limit that holds both ways
    uncertainty: float = 0.0  # expanded (k = 2) of the reading; 0 where nobody knows it


def edge_of(finding: Finding) -> Edge | None:
    """Return the two numbers that the finding compares, or None where it compares no numbers."""
    measured, limit = finding.measured, finding.limit
    if not (_is_number(measured) and _is_number(limit)):
        return None
    direction = direction_of(finding.rule)
    doubt = finding.uncertainty if _is_number(finding.uncertainty) else 0.0
    if direction is not Direction.AROUND:
        return Edge(measured, limit, direction, uncertainty=abs(doubt))
    nominal = _nominal(finding.rule)
    if nominal is None:
        return None
    limit = nominal + copysign(limit, measured - nominal)
    return Edge(measured, limit, direction, nominal, abs(doubt))


def _is_number(value: object) -> TypeGuard[float]:
    return isinstance(value, (int, float)) and isfinite(value)


@lru_cache(1_024)
def _nominal(rule: str) -> float | None:
    """Return the tint that a tolerance belongs to: tints.50.tolerance, tints.0.5.tolerance."""
    try:
        nominal = float(rule.partition(".")[2].rpartition(".")[0])
    except ValueError:
        return None
    return nominal if isfinite(nominal) else None


class Figures(NamedTuple):
    """Reading, limit and distance between them as text with units; empty where there is none."""

    measured: str
    asked: str
    off: str
    off_label: str


def figures_of(finding: Finding) -> Figures:
    """Return what the report says about the numbers of a finding."""
    edge = edge_of(finding)
    unit = plain(finding.unit, 20)
    is_words = isinstance(finding.measured, str)  # such as "no reading"
    direction = direction_of(finding.rule)
    if edge and edge.nominal is None:
        measured, limit = (with_unit(number, unit) for number in _beside(edge, unit))
    elif edge:
        measured = with_unit(_beside(edge, unit)[0], unit)
        limit = _said(finding.limit, unit)
    else:
        measured = _said(finding.measured, "" if is_words else unit)
        limit = _said(finding.limit, unit)
    if limit:
        nominal = _nominal(finding.rule) if direction is Direction.AROUND else None
        middle = "" if nominal is None else digits(nominal)
        absent = _WHERE_NOTHING_WAS_FOUND.get(finding.rule.rpartition(".")[2]) if is_words else None
        limit = f"{middle} {absent or direction} {limit}".strip()
    return Figures(measured, limit, _off(finding, unit), _off_label(edge))


def _beside(edge: Edge, unit: str) -> tuple[str, str]:
    return compared(edge.measured, edge.limit, unit)


def _said(value: float | str | None, unit: str) -> str:
    if value is None:
        return ""
    number = plain(value) if isinstance(value, str) else digits(value, unit)
    return with_unit(number, unit)


def _off(finding: Finding, unit: str) -> str:
    if finding.off is None or not isfinite(finding.off):
        return ""
    return with_unit(compared(abs(finding.off), 0.0, unit)[0], unit)


def _off_label(edge: Edge | None) -> str:
    if edge is None or edge.measured == edge.limit:
        return "off by"
    return "over by" if edge.measured > edge.limit else "short by"
