"""The keys of site.yaml that say where the history is kept."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import parse_qs, urlsplit

from pydantic import AfterValidator

from gatekeeper.yamlfiles.fields import WordField, refuse

SERVER = ("postgresql://", "postgresql+psycopg://")
"""How the address of a history on a server begins."""


def is_on_server(address: str | None) -> bool:
    """Whether an address means a database server, which has backups of its own."""
    return bool(address) and str(address).startswith(SERVER)


def _without_password(address: str) -> str:
    """Refuse a password: everybody on the machine may read site.yaml, and logs may repeat it."""
    if not address.startswith(SERVER):
        return address
    try:
        parts = urlsplit(address)
        is_open = parts.password is not None or "password" in parse_qs(parts.query)
    except ValueError as error:
        what = "the address of the history is not one"
        raise refuse("not-an-address", what, "write postgresql://user@server/database") from error
    if is_open:
        what = "the address of the history holds a password, and everybody may read this file"
        do = "put it into a file that only the daemon's user may read: `history_password_file`"
        raise refuse("open-password", what, do)
    return address


HistoryField = Annotated[WordField, AfterValidator(_without_password)]
