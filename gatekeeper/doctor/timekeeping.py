"""Whether the clock is right, and its zone that of the room."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from gatekeeper.doctor.interface import Answer, broken, look, ok
from gatekeeper.upkeep.clock_watch import SET_IT, installed_at, is_before_program

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.doctor.interface import Ward


def clock(ward: Ward) -> Iterator[Answer]:
    """Look whether the machine's clock can be right: film and calibrations are judged by it."""
    now = ward.around.clock.now()
    shown = now.astimezone(ward.site.time_zone).strftime("%Y-%m-%d %H:%M %Z")
    if is_before_program(now, installed_at()):
        says = f"the machine's clock says {shown}, before this program was installed"
        yield broken("clock", says, SET_IT)
    else:
        yield ok("clock", shown)


def zone(ward: Ward) -> Iterator[Answer]:
    """Look whether dates on sheets are read in the machine's zone, unless that is plain UTC."""
    now = ward.around.clock.now()
    half_a_year = timedelta(days=182)  # two zones may agree in winter only
    stated = ward.site.settings.time_zone
    for moment in (now, now + half_a_year):
        machine = moment.astimezone().utcoffset()
        if machine and machine != moment.astimezone(ward.site.time_zone).utcoffset():
            says = f"site.yaml says {stated}, and the machine's own zone is another ({machine})"
            do = "write the room's zone as time_zone in site.yaml, such as Europe/Berlin"
            yield look("time zone", says, do)
            return
    yield ok("time zone", stated)
