"""Copies of two jobs made as unlike as the jobs of a room: `rules try` must not gain by sameness.

Every film gets readings of its own, with the scatter that `gatekeeper/likeness.py` names, and a
head of its own: job, operator, days, printer, meter, lot and ruling, over the ten years of the
history. The register is written for those years. Decisions stay as they are, and so do the limits
that films keep or miss; the numbers of the findings on solids and tints follow the readings. One
job in fifty names a customer whom no file knows, so that no rules have judged it.
"""

from __future__ import annotations

import json
import random
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.history.canonical import canonical

if TYPE_CHECKING:
    from pathlib import Path

    from sqlalchemy import Connection

DAYS = 3_640
FIRST = date(2016, 12, 1)
"""The day of the first film; the last are printed ten years later."""

LOT_DAYS, METER_DAYS, CURVE_DAYS = 60, 360, 28
"""How long a lot of film is in use, a meter until its next certificate, and a curve."""

PRINTERS, STOCKS = ("P1", "P2"), ("matte-5mil", "matte-8mil")
RULINGS = (55.0, 65.0, 85.0)


class Film(NamedTuple):
    """What is drawn for one film."""

    solids: tuple[float, ...]
    dot: float

    def cell(self, position: int) -> float | None:
        """Return the reading of a patch: clear film, three solids and a tint."""
        return (0.0, *self.solids, self.dot)[position]

    def measured(self, rule: str) -> float:
        """Return the number that the finding on a rule carries."""
        lowest, highest = min(self.solids), max(self.solids)
        return {
            "solid_density.min": lowest,
            "solid_density.spread": highest - lowest,
            "plausibility.max_density": highest,
            "tints.50.tolerance": self.dot,
        }[rule]


def write_register(file: Path) -> None:
    """Write meters, film and curves for all the years."""
    starts = {
        length: [FIRST + timedelta(days) for days in range(0, DAYS + length, length)]
        for length in (LOT_DAYS, METER_DAYS, CURVE_DAYS)
    }
    meters = [
        f"  {_meter(number)}: {{calibrated: {day}, uncertainty: 0.02, filter: visual}}"
        for number, day in enumerate(starts[METER_DAYS])
    ]
    lots = [
        f"  {_lot(stock, number)}: {{stock: {stock}, made: {day - timedelta(30)}, opened: {day}, "
        f"expires: {day + timedelta(365)}}}"
        for stock in STOCKS
        for number, day in enumerate(starts[LOT_DAYS])
    ]
    curves = [
        f"  - {{workflow: liquid-plate, printer: {printer}, stock: {stock}, linearized: {day}}}"
        for printer in PRINTERS
        for stock in STOCKS
        for day in starts[CURVE_DAYS]
    ]
    lines = ["meters:", *meters, "lots:", *lots, "curves:", *curves, ""]
    file.write_text("\n".join(lines))


def scatter(connection: Connection, jobs: int) -> None:
    """Give every film of a history of so many jobs its own readings and its own head."""

    @lru_cache(100_000)
    def film(number: int, decision: str) -> Film:
        luck = random.Random(number)  # noqa: S311 -- nothing is kept secret
        level = luck.gauss(3.05 if decision == "approved" else 2.4, 0.04)
        solids = tuple(round(luck.gauss(level, 0.02), 2) for _ in range(3))
        return Film(solids, round(min(51.4, max(48.6, luck.gauss(50.2, 0.6))), 1))

    def head_of(head: str, number: int, job: str) -> str:
        return canonical(_head(json.loads(head), number, job, jobs))

    driver = connection.connection.driver_connection
    functions = {
        "cell_of": lambda number, decision, place: film(number, decision).cell(place),
        "measured_of": lambda number, decision, rule: film(number, decision).measured(rule),
        "head_of": head_of,
    }
    for name, function in functions.items():
        driver.create_function(name, 3, function)
    for statement in _STATEMENTS.split(";"):
        connection.exec_driver_sql(statement)


# A copy's sheet bears the number of its verdict.
_STATEMENTS = """
    UPDATE readings SET (density, net_density) = (
        SELECT cell, cell FROM (
            SELECT cell_of(id, decision, position) AS cell FROM verdicts WHERE id = sheet_id
        )
    ) WHERE kind = 'solid';
    UPDATE readings SET dot_read_percent = (
        SELECT cell_of(id, decision, position) FROM verdicts WHERE id = sheet_id
    ) WHERE kind = 'tint';
    UPDATE negatives SET particulars = (
        SELECT head_of(particulars, id, job) FROM verdicts WHERE id = sheet_id
    );
    UPDATE findings SET measured = (
        SELECT measured_of(id, decision, rule) FROM verdicts WHERE id = verdict_id
    ) WHERE rule IN (
        'solid_density.min', 'solid_density.spread', 'plausibility.max_density',
        'tints.50.tolerance'
    );
    UPDATE verdicts SET customer = 'Hollin Soups', rules_fingerprint = '', decision = 'held'
        WHERE id % 50 = 0;
    DELETE FROM findings WHERE verdict_id % 50 = 0 AND "check" NOT IN ('sheet', 'job');
    UPDATE findings SET outcome = 'hold' WHERE verdict_id % 50 = 0 AND rule = 'job.names'
"""


def _head(head: dict[str, object], number: int, job: str, jobs: int) -> dict[str, object]:
    luck = random.Random(-number)  # noqa: S311 -- nothing is kept secret
    day = number * DAYS // (jobs + 1)
    minutes = timedelta(days=day, minutes=luck.randrange(7 * 60, 17 * 60))
    printed = datetime(FIRST.year, FIRST.month, FIRST.day, tzinfo=UTC) + minutes
    return {
        **head,
        "job": job,
        "operator": luck.choice(("JV", "HK", "MO", "TR")),
        "printer": luck.choice(PRINTERS),
        "film_lot": _lot(luck.choice(STOCKS), day // LOT_DAYS),
        "meter": _meter(day // METER_DAYS),
        "printed": _moment(printed),
        "measured": _moment(printed + timedelta(minutes=luck.randrange(10, 60))),
        "ruling_lpi": {"value": (ruling := luck.choice(RULINGS)), "written": f"{ruling:g} lpi"},
    }


def _moment(instant: datetime) -> dict[str, object]:
    return {"instant": instant.isoformat(), "has_time": True}


def _lot(stock: str, number: int) -> str:
    return f"{'M5' if stock == STOCKS[0] else 'M8'}-{number:04}"


def _meter(number: int) -> str:
    return f"Y-{number:02}"
