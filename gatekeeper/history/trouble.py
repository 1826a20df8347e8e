"""What the history says when it is away: every sentence in one place."""

from __future__ import annotations

from gatekeeper.history.interface import (
    HistoryAwayError,
    NoHistoryYetError,
    OlderHistoryError,
    UnrecordableError,
)

_PLACE = "write history: sqlite:///state/history.sqlite in site.yaml"
_LOCAL = "give the history a place on a local disk in site.yaml"


def no_address() -> HistoryAwayError:
    """Return the error for an address that is none. It may hold a password: it is not repeated."""
    return HistoryAwayError("the address of the history is not one", do=_PLACE)


def no_such_kind(address: str) -> HistoryAwayError:
    """Return the error for an unknown kind of database; `address` comes without its password."""
    return HistoryAwayError(f'the history cannot be kept in "{address}"', do=_PLACE)


def no_driver(what: str) -> HistoryAwayError:
    """Return the error for a server whose driver is not installed."""
    return HistoryAwayError(
        f"the history lies on a PostgreSQL server, and the driver for it is missing: {what}",
        do="install it beside the program: pip install 'gatekeeper[postgres]'",
    )


def wrong_encoding(found: str, where: str) -> HistoryAwayError:
    """Return the error for a database that does not take every name."""
    what = f"the history's database keeps text as {found}, which has no room for every name"
    return HistoryAwayError(what, where, "make it anew: createdb --encoding=UTF8 NAME")


def only_a_copy(where: str) -> HistoryAwayError:
    """Return the error for writing to a server that only follows another."""
    what = "the history's server only follows another one and takes no changes"
    return HistoryAwayError(what, where, "name the server that it follows in site.yaml")


def chain_broken(why: str, where: str) -> HistoryAwayError:
    """Return the error for a chain on a server, which others share."""
    return HistoryAwayError(
        why,
        where,
        "keep it as it is, ask who changed it, and run `gatekeeper history verify`;"
        " jobs are judged and filed without it",
    )


def copied_by_server(where: str) -> HistoryAwayError:
    """Return the error for a copy of what lies on a server."""
    return HistoryAwayError(
        "a history on a PostgreSQL server is copied by the server's own tools",
        where,
        "run pg_dump there, or `gatekeeper history export` here",
    )


def older(found: int, known: int, where: str) -> HistoryAwayError:
    """Return the error for a shared database that somebody must decide to upgrade."""
    return HistoryAwayError(
        f"the history is of version {found}, this program writes version {known}",
        where,
        "when every room has the new program and the server was copied by pg_dump, run"
        " `gatekeeper history upgrade --copied`; until then jobs are judged and filed without it",
    )


def not_yet_upgraded(found: int, known: int, where: str) -> HistoryAwayError:
    """Return the error for looking into an older file that nobody has upgraded yet."""
    return OlderHistoryError(
        f"the history is of version {found}, this program reads version {known}",
        where,
        "start the service, or run `gatekeeper history upgrade`: both keep a copy first",
    )


def nothing_begun(where: str) -> NoHistoryYetError:
    """Return the error for looking where nothing is yet."""
    return NoHistoryYetError("no history has been begun", where, "it begins with the first job")


def no_folder(where: str) -> HistoryAwayError:
    """Return the error for a folder that is missing: it may be a disk that is not mounted."""
    return HistoryAwayError("the history's folder is not there", where, "bring it back")


def no_plain_file(where: str) -> HistoryAwayError:
    """Return the error for a folder, pipe or device in the file's place."""
    return HistoryAwayError("the history's place is taken by no plain file", where, _LOCAL)


def on_network(kind: str, where: str) -> HistoryAwayError:
    """Return the error for a network share."""
    what = f"the history lies on a network share ({kind}), where SQLite can lose it"
    return HistoryAwayError(what, where, _LOCAL)


def gone(where: str) -> HistoryAwayError:
    """Return the error for a file that was deleted or replaced under the program."""
    return HistoryAwayError(
        "the history's file was deleted or replaced while it was in use",
        where,
        "leave the file alone while the service runs; a new history is begun, and"
        " `gatekeeper history rebuild` fills it from the job folders",
    )


def found_damaged(where: str) -> HistoryAwayError:
    """Return the error for damage that was found while the file was in use."""
    return HistoryAwayError(
        "the history is damaged", where, "it is set aside at its next use; rebuild it"
    )


def still_read(where: str) -> HistoryAwayError:
    """Return the error for opening anew while the former file has readers."""
    return HistoryAwayError("the former history is still being read", where, "wait")


def newer(found: int, known: int, where: str = "") -> HistoryAwayError:
    """Return the error for a database that a newer program has written."""
    return HistoryAwayError(
        f"the history is of version {found}, this program knows versions up to {known}",
        where,
        "run the newer program, or give the history another place in site.yaml;"
        " jobs are judged and filed without it",
    )


def foreign(where: str = "") -> HistoryAwayError:
    """Return the error for a database that is something else."""
    return HistoryAwayError(
        "the database holds tables that are not a history",
        where,
        "give the history a place of its own in site.yaml",
    )


def not_understood(what: str, where: str) -> HistoryAwayError:
    """Return the error for a row whose cells are not what they were written as."""
    return HistoryAwayError(
        f"the history holds something that cannot be understood: {what}",
        where,
        "run `gatekeeper history verify`",
    )


def unrecordable(subject: str, what: str) -> UnrecordableError:
    """Return the error for a verdict that no row can hold."""
    return UnrecordableError(
        f"cannot be recorded: {subject} {what}",
        do="the job is filed and its folder is the record; report this as a fault of the program",
    )


def name_taken(where: str) -> HistoryAwayError:
    """Return the error for a copy that would overwrite something."""
    return HistoryAwayError("there is a file of that name", where, "name another")


def not_copied(what: str, where: str) -> HistoryAwayError:
    """Return the error for a copy that could not be written."""
    return HistoryAwayError(
        f"the history was not copied: {what}", where, "see to that folder and its disk"
    )


def no_carried_history(where: str) -> HistoryAwayError:
    """Return the error for a folder that `history export` has not written."""
    return HistoryAwayError(
        "there is no exported history", where, "name a folder that `history export --to` has made"
    )


def no_such_table(name: str, where: str) -> HistoryAwayError:
    """Return the error for a file with other columns."""
    return HistoryAwayError(
        f"this is not the table {name}", where, "export it anew; nothing was taken up"
    )


def no_such_row(line: int, where: str) -> HistoryAwayError:
    """Return the error for a row that cannot be read."""
    return HistoryAwayError(
        f"line {line} cannot be read", where, "export it anew; nothing was taken up"
    )


def carried_version(found: object, known: int, where: str) -> HistoryAwayError:
    """Return the error for an export of another version."""
    return HistoryAwayError(
        f"the export is of version {found}, this program writes version {known}",
        where,
        "take it up with the program that wrote it, then upgrade; nothing was taken up",
    )


def carried_from(found: str, site: str, where: str) -> HistoryAwayError:
    """Return the error for rows of another site: its chain names it in every seal."""
    return HistoryAwayError(
        f'the export holds rows of the site "{found}", and this site is "{site}"',
        where,
        "take it up where it belongs; nothing was taken up",
    )


def has_a_history(site: str) -> HistoryAwayError:
    """Return the error for taking up a history where one has begun."""
    return HistoryAwayError(
        f'the site "{site}" has a history here already, and a chain has one beginning',
        do="take it up where none has begun: into an empty file or database; nothing was taken up",
    )


def does_not_hold(sequence: int, says: str, where: str) -> HistoryAwayError:
    """Return the error for an export whose chain is broken."""
    return HistoryAwayError(
        f"the exported audit chain does not hold at event {sequence}: {says}",
        where,
        "export it anew, or ask who changed the files; nothing was taken up",
    )


def no_parquet(what: str) -> HistoryAwayError:
    """Return the error for Parquet without its library."""
    return HistoryAwayError(
        f"Parquet needs a library that is missing: {what}",
        do="pip install 'gatekeeper[parquet]', or use --form csv",
    )
