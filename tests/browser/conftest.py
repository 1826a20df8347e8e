"""A real browser, the distribution's own, and the pages of the demo opened from disk.

Pictures of what it showed are kept in build/pages, to be looked at.
"""

import shutil
from datetime import timedelta
from pathlib import Path

import pytest

from gatekeeper.control.shares import share
from gatekeeper.demo.week import run_demo
from gatekeeper.show.page import rooms_page
from gatekeeper.show.room_facts import Alarm
from gatekeeper.show.shared_rooms import HeldElsewhere, SharedRoom, SharedRooms

NAMES = ("chromium", "chromium-browser", "google-chrome")
FLAGS = [
    "--no-sandbox",  # the tests may run as root
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
ROOMS = SharedRooms(
    room="Ferrybank Plate Room",
    asked="24 Nov 17:00",
    days=60,
    rooms=(
        SharedRoom(
            name="ferrybank",
            is_here=True,
            approved=412,
            held_in_all=0,
            first_try=share(15, 148),
            newest="24 Nov 16:57",
            age=timedelta(minutes=3),
        ),
        SharedRoom(
            name="north",
            is_here=False,
            approved=90,
            held_in_all=7,
            first_try=share(9, 60),
            newest="21 Nov 11:02",
            age=timedelta(days=3),
            held=(
                HeldElsewhere("2041", "liquid-plate", "", "21 Nov 11:02", "the solid is too thin"),
            ),
        ),
    ),
    left_out=1,
    bad_lots=("film lot M5-0317: 12 of 36 jobs held at the first try in 2 rooms",),
    lots=9,
    alarms=(Alarm("the shared history is away. What stands here is old", "see to the server"),),
)
PICTURES = Path(__file__).parents[2] / "build" / "pages"


@pytest.fixture(scope="session")
def room(tmp_path_factory):
    """The folder of the demo's pages."""
    outcome = run_demo(tmp_path_factory.mktemp("demo") / "site")
    assert outcome.filed, "the demo's own jobs wait: nothing to look at"
    folder = outcome.site.state / "page"
    # The demo's history is a file of its own; what a server would tell of other rooms stands here.
    (folder / "rooms.html").write_text(rooms_page(ROOMS, written="24 Nov 17:02"), encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def browser():
    """The browser, or the reason why there is none."""
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        pytest.skip(f"no browser is installed: none of {', '.join(NAMES)}")
    api = pytest.importorskip("playwright.sync_api", reason="playwright drives the browser")
    with api.sync_playwright() as driver:
        # Its profile is a new folder each time, which goes when the browser closes.
        started = driver.chromium.launch(executable_path=found, headless=True, args=FLAGS)
        yield started
        started.close()


class Visit:
    """A page that is looked at, and what went wrong meanwhile."""

    def __init__(self, page, root):
        self.page = page
        self.root = root
        self.faults = []
        self.asked_for = []
        page.on("console", lambda message: self.faults.append(message.text))
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("request", lambda request: self.asked_for.append(request.url))

    def open(self, name, width=1280, height=720):
        self.page.set_viewport_size({"width": width, "height": height})
        self.page.goto(
            (self.root / name.partition("#")[0]).as_uri() + "".join(name.partition("#")[1:])
        )
        return self.page

    def picture(self, name, *, whole=False):
        PICTURES.mkdir(parents=True, exist_ok=True)
        path = PICTURES / f"{name}.png"
        self.page.screenshot(path=path, full_page=whole)
        assert path.stat().st_size > 5_000


@pytest.fixture
def visit(browser, room):
    """A window of its own; afterwards nothing may have failed, and nothing left the folder."""
    context = browser.new_context()
    context.set_default_timeout(5_000)
    made = Visit(context.new_page(), room)
    yield made
    context.close()
    assert made.faults == []
    assert made.asked_for
    home = room.as_uri()
    assert [url for url in made.asked_for if not url.startswith(home)] == []
