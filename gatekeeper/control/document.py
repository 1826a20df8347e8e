"""A review as plain dicts, lists, text and numbers, for other programs. Pure."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import TYPE_CHECKING, Any

from gatekeeper.control.chart_facts import chart_of

if TYPE_CHECKING:
    from gatekeeper.control.lots import LotRate
    from gatekeeper.control.review import Review
    from gatekeeper.control.shares import Share
    from gatekeeper.control.trend import Trend
    from gatekeeper.control.yields import Yield

Document = dict[str, Any]


def review_document(review: Review) -> Document:
    """Return everything that a review found; moments as ISO 8601 with their offset."""
    return {
        "since": review.wanted.since.isoformat(),
        "at": review.at.isoformat(),
        "news": list(review.news),
        "rooms": [
            {
                "room": room.room,
                "series": [_series(trend) for trend in room.trends],
                "yield": _yield(room.came_through),
            }
            for room in review.rooms
        ],
        "film_lots": [_lot(rate) for rate in review.lots],
    }


def _lot(rate: LotRate) -> Document:
    return {
        "lot": rate.lot,
        "rooms": list(rate.rooms),
        "held": _share(rate.held),
        "other_lots": _share(rate.others),
        "p_value": rate.p_value,
        "is_worse": rate.is_worse,
    }


def _series(trend: Trend) -> Document:
    """Return the chart's facts, what the capability is, and how fast the level moves."""
    document: Document = plain_data(asdict(chart_of(trend)))
    ahead, fit = trend.prospect, trend.capability
    document["drift"] = ahead and {
        "per_day": ahead.per_day,
        "per_day_lower": ahead.per_day_lower,
        "per_day_upper": ahead.per_day_upper,
        "level": ahead.level,
        "is_sure": ahead.is_sure,
        "crossing": _moment(ahead.crossing),
        "earliest": _moment(ahead.earliest),
        "latest": _moment(ahead.latest),
        "reading_earliest": _moment(ahead.reading_earliest),
    }
    document["capability"] = fit and asdict(fit)
    return document


def _yield(found: Yield) -> Document:
    return {
        "held": _share(found.held),
        "first_pass": _share(found.first_pass),
        "concessions": found.concessions,
        "reasons": [asdict(reason) for reason in found.reasons],
    }


def _share(share: Share) -> Document:
    return {**asdict(share), "fraction": share.fraction}


def _moment(moment: datetime | None) -> str | None:
    return moment.isoformat() if moment else None


def plain_data(value: Any) -> Any:  # noqa: ANN401 -- what JSON can hold is that loose
    """Return the value with every moment as text and every tuple as a list."""
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: plain_data(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [plain_data(inner) for inner in value]
    return value
