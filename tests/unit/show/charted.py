"""A control chart of our own invention: two weeks of mid-tones that creep up."""

from datetime import UTC, datetime, timedelta

from gatekeeper.control.chart_facts import ChartFacts, ChartForecast, ChartPoint, ChartStretch

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
