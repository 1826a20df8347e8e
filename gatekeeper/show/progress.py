"""How far long work is, on a terminal; in a pipe or a log nothing, so that no machine reads it."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from gatekeeper.show.palette import DARK

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


@contextmanager
def progress(
    what: str, console: Console | None = None
) -> Iterator[Callable[[int, int | None], None]]:
    """Yield what long work tells how much is done, of how much (None: not known); then it goes.

    Parameters
    ----------
    what : what is counted: "verdicts told"
    console : standard error without it, so that what the command prints stays clean
    """
    console = console or Console(stderr=True)
    if not console.is_terminal:
        yield lambda _done, _total: None
        return
    columns = (
        TextColumn("{task.description}"),
        BarColumn(complete_style=DARK.held, finished_style=DARK.held, pulse_style=DARK.held),
        MofNCompleteColumn(),
        TimeRemainingColumn(elapsed_when_finished=True),
    )
    with Progress(*columns, console=console, transient=True, refresh_per_second=4) as shown:
        task = shown.add_task(what, total=None)
        yield lambda done, total: shown.update(task, completed=done, total=total)
