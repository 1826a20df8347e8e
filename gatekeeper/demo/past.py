"""The weeks before the demo's own: a printer that creeps up, and the wedge that brings it back.

Each day is dropped and judged with the clock on its evening, so that the charts of that evening
are those that the room would have seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any

from gatekeeper.bundled import bundled
from gatekeeper.care.curve_desk import CurveDesk
from gatekeeper.demo.clock import DemoClock
from gatekeeper.room import read_book
from gatekeeper.rounds.sweeping import sweep_once
from gatekeeper.workshop import rounds_of
from gatekeeper.yamlfiles.load import load
from gatekeeper.yamlfiles.places import to_plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from gatekeeper.clock import Clock
    from gatekeeper.control.curve import BuiltCurve
    from gatekeeper.rounds.outlook import FiledJob
    from gatekeeper.site import Site

TABLE = "past.yaml"
_EVENING = time(18)
_MEASURED_AFTER = timedelta(minutes=25)
_SPOTS = ("left", "centre", "right")


@dataclass(frozen=True, slots=True)
class Evening:
    """What a day has brought.

    Attributes
    ----------
    clock : stands on the evening of that day
    accepted : the curve that was taken into use after the sheets of the day
    """

    day: date
    clock: Clock
    filed: tuple[FiledJob, ...]
    accepted: BuiltCurve | None


def play_past(site: Site) -> Iterator[Evening]:
    """Let the days go by in a new site, one for each evening that is asked for."""
    path = bundled("examples") / TABLE
    table: Any = to_plain(load(path.read_bytes(), path.name))
    for entry in table["days"]:
        day = date.fromisoformat(str(entry["day"]))
        _drop_sheets(site, day, entry, table["head"])
        yield _judged(site, day, str(entry.get("accepts", "")))


def _judged(site: Site, day: date, accepts: str) -> Evening:
    clock = DemoClock(datetime.combine(day, _EVENING, site.time_zone))
    book = read_book(site)
    rounds = rounds_of(site, clock, lambda: book, settle_s=0.0)
    filed = tuple(sweep_once(rounds).filed)
    rounds.ledger.history.close()
    accepted = None
    if accepts:
        accepted, _ = CurveDesk(site, clock).accept(accepts, by="AO")
    return Evening(day, clock, filed, accepted)


def _drop_sheets(
    site: Site, day: date, entry: Mapping[str, Any], head: Mapping[str, object]
) -> None:
    folder = site.drop / str(head["workflow"])
    for job in entry["jobs"]:
        name = str(job["job"])
        rows = [
            ("clear", "", "0.00", "", "left"),
            *(
                ("solid", "", density, "", spot)
                for density, spot in zip(job["solid"], _SPOTS, strict=True)
            ),
            ("tint", "50", "", job["dot"], "centre"),
        ]
        meter = {"meter": job["meter"]} if "meter" in job else {}
        text = _sheet({"job": name, **head, **meter, **_moments(day, job["at"])}, rows)
        (folder / f"{name}-{day:%m%d}.csv").write_text(text, encoding="utf-8")
    for check in entry.get("checks", ()):
        name = f"check-{check['meter']}-{day:%m%d}.csv"
        (site.drop / name).write_text(_check(check, head, day), encoding="utf-8")
    if wedge := entry.get("wedge"):
        rows = [
            ("solid", "", wedge["solid"], "", ""),
            *(("tint", sent, "", dot, "") for sent, dot in wedge["dots"].items()),
        ]
        fields = {"sheet": "wedge", **head, **_moments(day, wedge["at"]), "curve": "none"}
        del fields["customer"]  # a wedge is made for the room
        (folder / f"wedge-{day:%m%d}.csv").write_text(_sheet(fields, rows), encoding="utf-8")


def _check(check: Mapping[str, Any], head: Mapping[str, object], day: date) -> str:
    moment = datetime.combine(day, time.fromisoformat(check["at"]))
    fields = {
        "sheet": "meter check",
        "meter": check["meter"],
        "operator": head["operator"],
        "measured": f"{moment:%Y-%m-%d %H:%M}",
    }
    rows = [
        ("clear" if number == 0 else "solid", "", density, "", step)
        for number, (step, density) in enumerate(check["steps"].items())
    ]
    return _sheet(fields, rows)


def _moments(day: date, at: str) -> dict[str, object]:
    printed = datetime.combine(day, time.fromisoformat(at))
    measured = printed + _MEASURED_AFTER
    return {"printed": f"{printed:%Y-%m-%d %H:%M}", "measured": f"{measured:%Y-%m-%d %H:%M}"}


def _sheet(head: Mapping[str, object], rows: Sequence[tuple[str, ...]]) -> str:
    lines = [f"{name},{value}" for name, value in head.items()]
    table = [("patch", "nominal", "density", "dot", "where"), *rows]
    return "\n".join([*lines, "", *map(",".join, table)]) + "\n"
