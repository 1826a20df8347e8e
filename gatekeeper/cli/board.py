"""`board`: the whole room on one screen, for as long as somebody looks."""

from __future__ import annotations

import os
import signal
import sys
from time import monotonic
from typing import TYPE_CHECKING, Protocol

import click

from gatekeeper.cli.base import console, site_option, the_site

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.console import Console, RenderableType

    from gatekeeper.show.room_facts import RoomFacts

TICK_S = 0.5
"""Keys are taken at once; what changed on the disk shows after at most so long (s)."""

_READING_TURNS = 5
"""Who turned by hand wants to read: the board holds still for as long as so many turns."""


class Painter(Protocol):
    """What puts a picture on the terminal."""

    def update(self, renderable: RenderableType, *, refresh: bool = False) -> None:
        """Show the picture."""
        ...


class Keys(Protocol):
    """What tells of keys."""

    def wait(self, longest_s: float) -> str:
        """Return what the next key means, empty when none came in time."""
        ...


@click.command()
@click.option("--bell", is_flag=True, help="Ring once when a job is held.")
@click.option(
    "--turn",
    "turn_s",
    type=click.FloatRange(min=0),
    default=12.0,
    show_default=True,
    metavar="S",
    help="Turn a long list after so many seconds; 0: only by keys.",
)
@site_option
def board(bell: bool, turn_s: float) -> None:
    """Show what is held and why, what waits, what was approved and what is wrong, until stopped.

    It reads only: ending it never ends the gate. In a pipe it prints everything once.
    """
    from gatekeeper.clock import SystemClock
    from gatekeeper.screens.watching import Watching

    watching = Watching(the_site(), SystemClock())
    try:
        if is_screen():
            show_board(watching.facts, is_heard=bell, turn_s=turn_s)
        else:
            _print_once(watching.facts())
    finally:
        watching.close()


def is_screen() -> bool:
    """Whether a cursor can be moved about."""
    return sys.stdout.isatty() and os.environ.get("TERM", "dumb") not in {"", "dumb", "unknown"}


def signs_of_terminal() -> str:
    """Return $TERM, or "dumb" where the locale is C: nobody said that the terminal knows UTF-8.

    Python writes UTF-8 in that locale all the same (PEP 540), so the encoding does not tell.
    """
    told = os.environ.get("LC_ALL") or os.environ.get("LANG") or ""
    is_told = "PYTHONUTF8" in os.environ or "utf" in told.lower()
    return "dumb" if sys.flags.utf8_mode and not is_told else os.environ.get("TERM", "")


def _print_once(facts: RoomFacts) -> None:
    from gatekeeper.show.board import snapshot
    from gatekeeper.show.paint import as_text, shapes_for

    terminal = console()
    lines = snapshot(facts, terminal.width, shapes_for(terminal, signs_of_terminal()))
    click.echo(as_text(terminal, lines), nl=False)


def show_board(
    facts: Callable[[], RoomFacts], *, is_heard: bool = False, turn_s: float = 12.0
) -> None:
    """Show the board until a key or Ctrl-C ends it.

    Parameters
    ----------
    facts : asked at each tick; the screen is painted anew only when they differ
    is_heard : whether the terminal's bell rings when a job is held
    turn_s : seconds between two turns of what does not fit; 0 for none
    """
    from rich.live import Live

    from gatekeeper.cli.keyboard import keyboard

    # A service manager or `kill` ends the board; the terminal is given back as it was.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    terminal = console()
    with (
        keyboard() as keys,
        Live(console=terminal, screen=True, auto_refresh=False) as live,
    ):
        screen = Screen(terminal, live, turn_s)
        follow(screen, keys, facts, terminal.bell if is_heard else lambda: None)


def follow(
    screen: Screen, keys: Keys, facts: Callable[[], RoomFacts], ring: Callable[[], None]
) -> None:
    """Show the facts until a key or Ctrl-C ends it; ring when a job is held that was not before."""
    known: set[str] | None = None
    try:
        while True:
            found = facts()
            screen.show(found)
            held = {job.ticket for job in found.stopped}
            if known is not None and held - known:
                ring()
            known = held
            if screen.obey(keys.wait(TICK_S)):
                return
    except KeyboardInterrupt:
        return


class Screen:
    """What stands on the terminal, painted anew only when that changes."""

    def __init__(
        self, terminal: Console, live: Painter, turn_s: float, now: Callable[[], float] = monotonic
    ) -> None:
        from gatekeeper.show.paint import shapes_for

        self._terminal = terminal
        self._live = live
        self._shapes = shapes_for(terminal, signs_of_terminal())
        self._turn_s = turn_s
        self._now = now
        self._turns_at = now() + turn_s
        self._turn = 0
        self._asked: object = None
        self._shown: object = None

    def show(self, facts: RoomFacts) -> None:
        """Paint the facts, if that gives another picture than the one that stands there."""
        from gatekeeper.show.board import Size, board
        from gatekeeper.show.paint import painted

        width, height = self._terminal.size
        asked = facts, width, height, self._turn
        if asked == self._asked:
            return  # laying out a full room twice a second would cost more than all the rest
        self._asked = asked
        picture = board(facts, Size(width, height), self._turn, self._shapes)
        self._turn %= picture.turns
        if picture.lines != self._shown:
            self._shown = picture.lines
            self._live.update(painted(self._terminal, picture.lines), refresh=True)

    def obey(self, key: str) -> bool:
        """Do what a key asks, or turn by itself when it is time; True to end."""
        now = self._now()
        if key:
            self._turns_at = now + _READING_TURNS * self._turn_s
        if key == "repaint":
            self._shown = self._asked = None
        if key == "first":
            self._turn = 0
        if key == "back":
            self._turn -= 1
        if key == "on" or (self._turn_s and now >= self._turns_at):
            self._turn += 1
            self._turns_at = max(self._turns_at, now + self._turn_s)
        return key == "end"
