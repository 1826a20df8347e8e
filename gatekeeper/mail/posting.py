"""Letters on their way: a folder of files, each sent through SMTP and then removed.

A letter is a file before it is sent, so a server that is away, a restart or a kill loses none; one
that was sent in the moment of a kill may be sent twice, under the same Message-ID. What has waited
for `PATIENCE` is old news: it is put aside, and said.
"""

from __future__ import annotations

import smtplib
import ssl
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email import message_from_bytes
from email.policy import SMTP
from typing import TYPE_CHECKING, Final

from gatekeeper.errors import RoomError
from gatekeeper.mail.settings import STARTTLS, TLS
from gatekeeper.secret_file import read_secret

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.filing.disk import Disk
    from gatekeeper.mail.settings import MailBlock

TIMEOUT_S: Final = 20.0
"""For each answer of the server; the library's own default waits for ever."""

PATIENCE: Final = timedelta(days=2)

ENDING: Final = ".eml"
ASIDE: Final = ".unsent"
_LARGEST: Final = 5_000_000


@dataclass(frozen=True, slots=True)
class Posted:
    """What became of the letters that waited."""

    sent: int = 0
    aside: tuple[str, ...] = ()  # names of letters that grew too old


class Post:
    """The letters of a site that are not sent yet."""

    def __init__(self, folder: Path, root: Path, disk: Disk) -> None:
        """Keep letters in a folder; `root` is what the settings' files are relative to."""
        self._folder = folder
        self._root = root
        self._disk = disk

    def waiting(self) -> list[str]:
        """Return the names of the letters that wait, the oldest first."""
        return [name for name in self._disk.names(self._folder) if name.endswith(ENDING)]

    def put(self, name: str, content: bytes) -> None:
        """Keep a letter until it is sent; one of the same name is kept once."""
        if not self._disk.is_folder(self._folder):
            self._folder.mkdir(parents=True)
        path = self._folder / f"{name}{ENDING}"
        fresh = self._folder / f".{name}.new"
        self._disk.unlink(fresh)
        self._disk.write_new(fresh, content)
        fresh.replace(path)
        self._disk.sync(self._folder)

    def send(self, settings: MailBlock, now: datetime) -> Posted:
        """Send what waits.

        Raises
        ------
        RoomError : the server is away or refuses; what was sent is sent, the rest waits
        """
        names = self.waiting()
        if not names:
            return Posted()
        old = list(self._too_old(names, now))
        for name in old:
            (self._folder / name).replace(self._folder / f"{name}{ASIDE}")
        left = [name for name in names if name not in old]
        try:
            sent = self._send_all(settings, left) if left else 0
        except (OSError, smtplib.SMTPException) as error:
            raise RoomError(
                f"the digest cannot be sent through {settings.server}: {_says(error)}",
                do="it is tried again by itself; see `mail` in site.yaml",
            ) from error
        return Posted(sent, tuple(old))

    def _send_all(self, settings: MailBlock, names: list[str]) -> int:
        with _connection(settings, self._context(settings)) as server:
            if settings.user and settings.password_file:
                _log_in(server, settings.user, read_secret(self._root / settings.password_file))
            for name in names:
                content = self._disk.read(self._folder / name, _LARGEST)
                server.send_message(message_from_bytes(content, policy=SMTP))
                self._disk.unlink(self._folder / name)
        return len(names)

    def _too_old(self, names: list[str], now: datetime) -> Iterator[str]:
        for name in names:
            entry = self._disk.lstat(self._folder / name)
            if entry and now - datetime.fromtimestamp(entry.st_mtime, UTC) > PATIENCE:
                yield name

    def _context(self, settings: MailBlock) -> ssl.SSLContext:
        context = ssl.create_default_context()
        if settings.ca_file:
            context.load_verify_locations(self._root / settings.ca_file)
        return context


def _connection(settings: MailBlock, context: ssl.SSLContext) -> smtplib.SMTP:
    where = (settings.server, settings.port)
    if settings.security == TLS:
        return smtplib.SMTP_SSL(*where, timeout=TIMEOUT_S, context=context)
    server = smtplib.SMTP(*where, timeout=TIMEOUT_S)
    if settings.security == STARTTLS:
        try:
            # Where the server does not offer it, this raises: nothing is sent in the open instead.
            server.starttls(context=context)
        except BaseException:
            server.close()
            raise
    return server


def _log_in(server: smtplib.SMTP, user: str, password: str) -> None:
    try:
        server.login(user, password)
    except UnicodeError as error:  # the library speaks ASCII here, whatever the server offers
        raise RoomError(
            "user or password has letters that a login cannot carry",
            do="choose a password of plain letters, digits and signs",
        ) from error


def _says(error: Exception) -> str:
    """Return what the server or the system said, on one line and without a password."""
    if isinstance(error, smtplib.SMTPAuthenticationError):
        return f"it refuses the login ({error.smtp_code})"
    if isinstance(error, smtplib.SMTPResponseException):
        text = error.smtp_error
        words = text.decode("utf-8", "replace") if isinstance(text, bytes) else str(text)
        return f"{error.smtp_code} {' '.join(words.split())}"[:200]
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return f"it refuses the recipients {', '.join(error.recipients)}"[:200]
    return " ".join(str(error).split())[:200] or type(error).__name__
