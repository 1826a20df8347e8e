"""A digest as a letter: text first, HTML for those who prefer it; no picture, no link. Pure."""

from __future__ import annotations

from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

    from gatekeeper.mail.settings import MailBlock


def letter(
    settings: MailBlock, *, subject: str, text: str, html: str, at: datetime, key: str
) -> EmailMessage:
    """Return the letter.

    Parameters
    ----------
    at : moment of writing, aware of its zone
    key : what makes it this letter: a letter that was sent twice is recognised by it
    """
    message = EmailMessage(policy=SMTP)
    message["From"] = settings.sender
    message["To"] = ", ".join(settings.recipients)
    # Header injection is refused by the policy; a line break in a room's name must not end in that.
    message["Subject"] = " ".join(subject.split())
    message["Date"] = format_datetime(at)
    domain = settings.sender.rsplit("@", 1)[-1]
    message["Message-ID"] = f"<{key}@{domain}>"
    message["Auto-Submitted"] = "auto-generated"  # RFC 3834: no answering machine answers it
    message.set_content(text, charset="utf-8")
    message.add_alternative(html, subtype="html", charset="utf-8")
    return message


def letter_bytes(message: EmailMessage) -> bytes:
    """Return the letter as it is kept until it is sent: lines end as SMTP has them."""
    return message.as_bytes(policy=SMTP)
