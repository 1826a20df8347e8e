"""Films and series of a plate room that does not exist, made to measure."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import cycle

from gatekeeper.control.segments import segments_of
from gatekeeper.control.series import (
    Point,
    Quantity,
    Series,
    SeriesKey,
    Setup,
    Tolerance,
)
from gatekeeper.history.past import MeasuredFilm, PastNegative, PastReading
from gatekeeper.verdict import Decision

START = datetime(2026, 9, 1, 8, 0, tzinfo=UTC)
MID_TONE = Quantity("tint", 50.0)
KEY = SeriesKey("liquid-plate", "P1", "matte-5mil", MID_TONE)
SETUP = Setup("2026-08-31", "M5-0317", "")
TWO_POINTS = Tolerance(48.0, 52.0)

# Scatter of about 0.4 with no pattern in it: neither runs nor trends nor anything outside.
QUIET = (0.3, -0.5, 0.1, 0.6, -0.2, -0.4, 0.5, -0.1, 0.2, -0.6, 0.4, -0.3, 0.0, 0.5, -0.5, 0.2,
         -0.1, 0.3, -0.4, 0.1)  # fmt: skip


def quiet(number, level=50.0):
    """Return so many readings that keep their level."""
    return [level + step for step, _ in zip(cycle(QUIET), range(number), strict=False)]


def points(values, *, per_day=3, setup=SETUP, start=START):
    """Return one film for each reading, so many a day."""
    return [
        Point(start + timedelta(days=index / per_day), value, f"J{index}", setup, held=False)
        for index, value in enumerate(values)
    ]


def series(found, *, key=KEY, tolerance=TWO_POINTS):
    return Series(key, tuple(found), tolerance)


def segment(values, **changes):
    (only,) = segments_of(series(points(values, **changes)))
    return only


def reading(kind, *, nominal=None, net=None, dot=None, read=None, bound="exact"):
    return PastReading(kind, nominal, net, net, read, dot, None, None, bound, "", "", "")


SOUND = (
    reading("clear", net=0.0),
    reading("clear", net=0.02),
    reading("solid", net=2.91),
    reading("solid", net=2.88),
    reading("tint", nominal=50.0, read=50.8),
)


def film(
    readings=SOUND,
    *,
    job="1041",
    day=0,
    printed=None,
    measured=None,
    decision=Decision.APPROVED,
    **changes,
):
    """Return a film that arrived so many days after the start."""
    arrived = START + timedelta(days=day)
    values = {"printer": "P1", "film_lot": "M5-0317", "meter": "T-04", "separation": "black"}
    workflow = changes.pop("workflow", "liquid-plate")
    stated = {"printed": {"instant": printed.isoformat(), "has_time": True}} if printed else {}
    stated |= changes.pop("particulars", {})
    values.update(changes)
    negative = PastNegative(
        sheet=f"{job}.csv",
        ticket=f"t{day}-{job}",
        measured_at=measured,
        particulars=stated,
        readings=tuple(readings),
        **values,
    )
    return MeasuredFilm(job, workflow, arrived, decision, negative)
