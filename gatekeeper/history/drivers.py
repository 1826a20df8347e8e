"""What the database's driver said, beneath what the library made of it."""

from __future__ import annotations

from sqlalchemy.exc import DBAPIError


def original(error: Exception) -> BaseException | None:
    """Return the driver's own error, or the error itself where no driver raised it."""
    return error.orig if isinstance(error, DBAPIError) else error
