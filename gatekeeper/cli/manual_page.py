"""The manual page, made from the commands themselves, in the macros of man(7).

The layout is that of man-pages(7): NAME, SYNOPSIS, DESCRIPTION, then a section for the rest.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collections.abc import Iterator

EXIT_STATUS = (
    ("0", "done: approved, nothing wrong, every job filed"),
    ("1", "done, and somebody should look: held, waiting, broken rules"),
    ("2", "could not run: wrong call, no site, disk or share at fault"),
)

FILES = (
    ("site.yaml", "makes a folder a site; gatekeeper(1) finds it by --site or the variable below"),
    ("workflows/, customers/, readers/, register/", "what the administrator writes"),
    ("drop/, approved/, held/", "where jobs arrive and stand"),
    ("state/", "history, log and notes of the daemon"),
)


def manual_page(group: click.Command, name: str, version: str) -> str:
    """Return the page as man(1) reads it."""
    return "\n".join(_lines(group, name, version)) + "\n"


def _lines(group: click.Command, name: str, version: str) -> Iterator[str]:
    about = (group.help or "").split("\n\n")
    yield f'.TH {name.upper()} 1 "" "{name} {version}" "User Commands"'
    yield ".SH NAME"
    yield f"{name} \\- {_escaped(_first_word_small(about[0]))}"
    yield ".SH SYNOPSIS"
    yield f".B {name}"
    yield "[\\fIoptions\\fR] \\fIcommand\\fR [\\fIarguments\\fR]"
    yield ".SH DESCRIPTION"
    yield from _paragraphs("\n\n".join(about))
    yield ".SH OPTIONS"
    yield from _options(group, name)
    yield ".SH COMMANDS"
    yield from _commands(group, name)
    yield from _table("EXIT STATUS", EXIT_STATUS)
    yield from _table("ENVIRONMENT", (("GATEKEEPER_SITE", "the site, where --site is not given"),))
    yield from _table("FILES", FILES)


def _commands(command: click.Command, path: str) -> Iterator[str]:
    """Yield each command that does something, with its whole path."""
    if not isinstance(command, click.Group):
        yield f".SS {_escaped(path)}"
        arguments = " ".join(_argument(parameter) for parameter in _arguments(command))
        if arguments:
            yield f"Arguments: {arguments}"
            yield ".PP"
        yield from _paragraphs(command.help or "")
        yield from _options(command, path)
        return
    context = click.Context(command, info_name=path)
    for name in command.list_commands(context):
        inner = command.get_command(context, name)
        if inner is not None and not inner.hidden:
            yield from _commands(inner, f"{path} {name}")


def _arguments(command: click.Command) -> list[click.Argument]:
    return [parameter for parameter in command.params if isinstance(parameter, click.Argument)]


def _argument(argument: click.Argument) -> str:
    name = (argument.metavar or argument.name or "").upper()
    many = " ..." if argument.nargs != 1 else ""
    return f"\\fI{_escaped(name)}\\fR{many}"


def _options(command: click.Command, path: str) -> Iterator[str]:
    context = click.Context(command, info_name=path)
    for parameter in command.get_params(context):
        record = parameter.get_help_record(context)
        if record is None or "--help" in parameter.opts:
            continue
        yield ".TP"
        yield f".B {_escaped(record[0])}"
        yield _escaped(" ".join(record[1].split())) or "\\&"


def _table(title: str, rows: tuple[tuple[str, str], ...]) -> Iterator[str]:
    yield f".SH {title}"
    for name, says in rows:
        yield ".TP"
        yield f".B {_escaped(name)}"
        yield _escaped(says)


def _paragraphs(text: str) -> Iterator[str]:
    for number, paragraph in enumerate(re.split(r"\n\s*\n", text.replace("\b", ""))):
        if number:
            yield ".PP"
        yield from (_escaped(line.strip()) for line in paragraph.splitlines() if line.strip())


def _first_word_small(sentence: str) -> str:
    words = " ".join(sentence.split()).removesuffix(".")
    return words[:1].lower() + words[1:]


def _escaped(text: str) -> str:
    """Return text in which nothing is a command of roff."""
    text = text.replace("\\", "\\e").replace("-", "\\-")
    return f"\\&{text}" if text.startswith((".", "'")) else text
