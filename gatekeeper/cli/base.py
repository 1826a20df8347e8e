"""What every command shares: which site, how errors reach a person, the exit codes."""

from __future__ import annotations

import json
import os
import sys
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from gatekeeper.errors import GatekeeperError

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.console import Console

    from gatekeeper.site import Site

Command = TypeVar("Command", bound="Callable[..., Any]")


class Exit(IntEnum):
    """What the exit status means, the same for every command."""

    OK = 0  # done: approved, nothing wrong, every job filed
    LOOK = 1  # done, and somebody must look: held, jobs that wait, rules that are broken
    NOT_RUN = 2  # could not run: wrong call, no site, disk or share at fault


def site_option(command: Command) -> Command:
    """Accept --site behind the command as well as before it."""
    return click.option(
        "--site",
        "stated",
        metavar="DIR",
        expose_value=False,
        callback=_remember_site,
        help="Folder of the site.",
    )(command)


def _remember_site(context: click.Context, parameter: click.Parameter, value: str | None) -> None:
    del parameter
    if value is not None:
        context.find_root().meta["gatekeeper.site"] = value


json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON for other programs.")


def room_options(command: Command) -> Command:
    """Accept `--room NAME`, as often as wanted, and `--all-rooms`, for a history that is shared."""
    for option in (
        click.option(
            "--all-rooms", is_flag=True, help="Every room that writes into the same history."
        ),
        click.option(
            "--room",
            "rooms",
            metavar="NAME",
            multiple=True,
            help="A room of a shared history, by the name in its .gatekeeper/site-id; repeatable.",
        ),
    ):
        command = option(command)
    return command


def site_folder() -> Path:
    """Return the folder of the site that the call, the environment or this folder names."""
    from gatekeeper.site import find_site

    stated = click.get_current_context().find_root().meta.get("gatekeeper.site")
    return find_site(stated, os.environ, Path.cwd())


def the_site() -> Site:
    """Return the site that the call, the environment or the current folder names."""
    from gatekeeper.site import read_site

    return read_site(site_folder())


def console() -> Console:
    """Return the terminal, or plain text of 80 columns in a pipe."""
    from rich.console import Console

    if sys.stdout.isatty():
        return Console(highlight=False)
    return Console(highlight=False, width=80, no_color=True, soft_wrap=False)


def print_json(data: object) -> None:
    """Print JSON on standard output, readable and stable."""
    click.echo(json.dumps(data, indent=2, ensure_ascii=True))


def leave(code: Exit) -> None:
    """End the command with this status."""
    click.get_current_context().exit(int(code))


def _of_system(error: OSError) -> GatekeeperError:
    from gatekeeper.system_errors import advice

    what = error.strerror or str(error)
    return GatekeeperError(what, str(error.filename or ""), advice(error))


def run(group: click.Group, words: list[str] | None = None) -> int:
    """Run the command that the words name, the program's own arguments without them.

    Errors that a person can mend are said without a traceback.
    """
    try:
        result = group.main(words, standalone_mode=False, prog_name="gatekeeper")
    except click.ClickException as error:
        error.show()
        return int(Exit.NOT_RUN)
    except click.exceptions.Abort:
        return 130
    except GatekeeperError as error:
        click.echo(f"gatekeeper: {error}", err=True)
        return int(Exit.NOT_RUN)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # the reader has gone
        return int(Exit.OK)
    except OSError as error:
        click.echo(f"gatekeeper: {_of_system(error)}", err=True)
        return int(Exit.NOT_RUN)
    return result if isinstance(result, int) else int(Exit.OK)
