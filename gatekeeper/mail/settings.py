"""The block `mail` of site.yaml: through which server, to whom."""

from __future__ import annotations

import re
from typing import Annotated, Self

from pydantic import AfterValidator, Field, model_validator

from gatekeeper.wording import quoted
from gatekeeper.yamlfiles.fields import Block, CountField, WordField, WordsField, one_of, refuse

_ADDRESS = re.compile(r"[^@\s<>,;\"]+@[^@\s<>,;\"]+")

STARTTLS = "starttls"
TLS = "tls"
PLAIN = "none"


def _address(text: str) -> str:
    if _ADDRESS.fullmatch(text):
        return text
    raise refuse(
        "not-an-address", f"{quoted(text)} is not a mail address", "write one such as a@b.example"
    )


def _addresses(texts: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(map(_address, texts))


_OWN_MACHINE = frozenset({"localhost", "127.0.0.1", "::1"})


class MailBlock(Block):
    """How the digest leaves the room. Passwords never stand in site.yaml."""

    server: WordField = Field(description="name of the mail server")
    port: CountField = Field(default=587, ge=1, le=65535, description="its port")
    security: Annotated[str, one_of(STARTTLS, TLS, PLAIN)] = Field(
        default=STARTTLS,
        description="starttls, tls from the first byte, or none (for a server on this machine)",
    )
    sender: Annotated[WordField, AfterValidator(_address)] = Field(
        description="address that the digest comes from"
    )
    recipients: Annotated[WordsField, AfterValidator(_addresses)] = Field(
        description="addresses that it goes to"
    )
    user: WordField | None = Field(default=None, description="name to log in with")
    password_file: WordField | None = Field(
        default=None,
        description="file with the password, readable by the daemon's user alone; relative to the "
        "site's folder or absolute",
    )
    ca_file: WordField | None = Field(
        default=None,
        description="certificates to trust besides the system's, for a server with one of its own",
    )

    @model_validator(mode="after")
    def _login_is_whole_and_safe(self) -> Self:
        """Refuse half a login, and a password that would travel in the open."""
        if (self.user is None) != (self.password_file is None):
            what = "a login needs both `user` and `password_file`"
            raise refuse("half-a-login", what, "give both, or neither")
        if self.user and self.security == PLAIN and self.server not in _OWN_MACHINE:
            what = f"the password would go to {quoted(self.server)} in the open"
            raise refuse("open-password", what, "write `security: starttls` or `tls`")
        return self
