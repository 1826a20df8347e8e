"""Charts of our own invention: two weeks of mid-tones that creep up, and a wedge with a misread."""

from datetime import UTC, datetime, timedelta

from gatekeeper.control.chart_facts import ChartFacts, ChartForecast, ChartPoint, ChartStretch
from gatekeeper.control.tone_facts import ToneFacts, ToneReading, ToneStep

BEGIN = datetime(2026, 10, 1, 9, tzinfo=UTC)


def point(index, value, **changes):
    usual = {"job": f"{1000 + index}", "stretch": 0, "in_base": True, "held": False, "shows": ()}
    return ChartPoint(BEGIN + timedelta(days=index), value, **(usual | changes))


POINTS = (
    *(point(index, 50 + (index % 3 - 1) * 0.3) for index in range(12)),
    point(12, 51.4, shows=("beyond its control limit",)),
    point(13, 52.3, held=True, shows=("beyond its control limit", "nine on one side")),
)
FACTS = ChartFacts(
    title="mid-tone on P1 (matte-5mil, liquid-plate)",
    workflow="liquid-plate",
    printer="P1",
    stock="matte-5mil",
    quantity="tint 50",
    unit="percent",
    nominal=50.0,
    tolerance_lower=48.0,
    tolerance_upper=52.0,
    points=POINTS,
    stretches=(
        ChartStretch(
            began=BEGIN,
            ended=POINTS[-1].when,
            because="",
            centre=50.0,
            lower=48.9,
            upper=51.1,
            provisional=False,
            note="",
        ),
    ),
    forecast=ChartForecast(
        since=POINTS[8].when,
        since_value=50.2,
        until=POINTS[-1].when + timedelta(days=3),
        until_value=52.0,
        earliest=None,
        latest=POINTS[-1].when + timedelta(days=5),
        is_news=True,
    ),
    says=("it has crept up",),
    is_news=True,
)

CURVE = ToneFacts(
    title="liquid-plate P1 matte-5mil 2026-11-20",
    workflow="liquid-plate",
    printer="P1",
    stock="matte-5mil",
    state="in use",
    steps=(ToneStep(0, None, 0, 0), ToneStep(50, None, 42, 50.2), ToneStep(100, None, 100, 100)),
    readings=(
        ToneReading(0, 0, "left", is_outlier=False),
        ToneReading(50, 58, "left", is_outlier=False),
        ToneReading(75, 40, "left", is_outlier=True),
    ),
    mid_tone=58.0,
    read_how="now",
    mid_tone_predicted=50.2,
    error=0.6,
    leave_one_out=0.4,
)
