"""Three rooms of our own invention that share one history, as their page is told of them."""

from datetime import timedelta

from gatekeeper.control.shares import share
from gatekeeper.show.room_facts import Alarm
from gatekeeper.show.shared_rooms import HeldElsewhere, SharedRoom, SharedRooms

AWAY = Alarm("the shared history is away: no answer. What stands here is old", "see to the server")
BAD_LOT = (
    "film lot M5-0317: 12 of 36 jobs (20 to 50 %) held at the first try in 3 rooms "
    "(ferrybank, north, tannery), with other lots 12 of 180 jobs (4 to 11 %): "
    "print no more on it until a strip of it has been measured"
)


def held(job="2041", **changes):
    usual = {
        "workflow": "liquid-plate",
        "customer": "Pennyroyal Preserves",
        "since": "24 Nov 09:12",
        "why": "the solid is too thin: light gets through it",
    }
    return HeldElsewhere(job, **(usual | changes))


HERE = SharedRoom(
    name="ferrybank",
    is_here=True,
    approved=412,
    held_in_all=1,
    first_try=share(15, 148),
    newest="24 Nov 16:57",
    age=timedelta(minutes=3, seconds=10),
    held=(held("1044"),),
)
NORTH = SharedRoom(
    name="north",
    is_here=False,
    approved=90,
    held_in_all=7,
    first_try=share(9, 60),
    newest="21 Nov 11:02",
    age=timedelta(days=3, hours=5),
    held=(held(), held("2039", customer="", why="the tint reads 4 % too high")),
)
TANNERY = SharedRoom(name="tannery", is_here=False, approved=0, held_in_all=0)
ROOMS = SharedRooms(
    room="Ferrybank Plate Room",
    asked="24 Nov 17:00",
    days=60,
    rooms=(HERE, NORTH, TANNERY),
    bad_lots=(BAD_LOT,),
    lots=9,
)
