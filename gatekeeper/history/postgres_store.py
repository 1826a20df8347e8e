"""The history on a PostgreSQL server: one database, many sites, each with a chain of its own.

The server is never in the path of a decision: what fails here is said and told again later.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gatekeeper.errors import RoomError
from gatekeeper.history import postgres, trouble
from gatekeeper.history.drivers import original
from gatekeeper.history.interface import HistoryAwayError
from gatekeeper.history.migrations import CURRENT, usable_version
from gatekeeper.secret_file import read_secret

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from sqlalchemy import URL, Connection, Engine

    from gatekeeper.history.interface import Wait
    from gatekeeper.history.migrations import Goal


class PostgresStore:
    """One database of a server, as site.yaml names it."""

    def __init__(
        self,
        address: URL,
        *,
        password_file: Path | None,
        wait: Wait,
        writable: bool,
        may_upgrade: bool = False,
        goal: Goal = CURRENT,
    ) -> None:
        self._address = address
        self._password_file = password_file
        self._wait = wait
        self.writable = writable
        self.goal = goal
        self.kept = ""
        self._may_upgrade = may_upgrade
        self.name = address.render_as_string(hide_password=True)

    def open(self, now: datetime) -> tuple[Engine, str]:
        """Return an engine, and why the history must be begun anew ("" where it need not).

        Raises
        ------
        HistoryAwayError : nobody answers, the database is none for a history, or its version is
            another; in each case nothing was changed
        """
        del now
        engine = postgres.engine_for(self._settings(), wait=self._wait)
        try:
            with engine.connect() as connection:
                found = self._look(connection)
        except BaseException:
            engine.dispose()
            raise
        return engine, "" if found else "the database was empty"

    def set_aside(self, now: datetime, why: str) -> str:
        """Refuse: other sites share the database, and a chain that does not hold is evidence."""
        del now
        raise trouble.chain_broken(why, self.name)

    def check_still_there(self) -> None:
        """Do nothing: a server that loses its database says so at the next statement."""

    @property
    def unfilled(self) -> str:
        """Nothing: a site's first use of a server is no loss that would have to be made good."""
        return ""

    def is_filled(self) -> None:
        """Do nothing: nothing says that it was not."""

    def let_go(self, engine: Engine, *, is_sound: bool) -> None:
        """Close every connection; the server looks after its own files."""
        del is_sound
        engine.dispose()

    def explain(self, error: Exception) -> HistoryAwayError:
        """Return the driver's or the system's error in words."""
        if isinstance(error, OSError):
            return HistoryAwayError(
                f"the history cannot be reached: {error.strerror or error}", self.name
            )
        what, do = postgres.words_for(original(error))
        return HistoryAwayError(what, self.name, do)

    def is_passing(self, error: Exception) -> bool:
        """Whether the connection is sound in spite of the error."""
        return postgres.code_of(original(error)) in postgres.PASSING

    def copy_to(self, engine: Engine, target: Path) -> None:
        """Refuse: a server is copied by its own tools."""
        del engine
        raise trouble.copied_by_server(str(target))

    def _settings(self) -> dict[str, Any]:
        address = self._address.translate_connect_args(username="user", database="dbname")
        settings = {**{key: str(value) for key, value in self._address.query.items()}, **address}
        if self._password_file is not None:
            try:
                settings["password"] = read_secret(self._password_file)
            except RoomError as error:
                raise HistoryAwayError(error.what, error.where, error.do) from error
        return settings

    def _look(self, connection: Connection) -> int:
        encoding = postgres.encoding_of(connection)
        if encoding != "UTF8":
            raise trouble.wrong_encoding(encoding, self.name)
        if self.writable and postgres.is_copy(connection):
            raise trouble.only_a_copy(self.name)
        found = usable_version(connection, self.goal, self.name)
        if 0 < found < self.goal.version and not self._may_upgrade:
            raise trouble.older(found, self.goal.version, self.name)
        if found == 0 and not self.writable:
            raise trouble.nothing_begun(self.name)
        return found
