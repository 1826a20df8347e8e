"""Letters through a real mail server on this machine: STARTTLS, login, and all that fails."""

from __future__ import annotations

import os
import shutil
import socket
import ssl
import subprocess
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from email import message_from_bytes
from email.policy import SMTP as WIRE

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, LoginPassword

from gatekeeper.errors import RoomError
from gatekeeper.filing.disk import Disk
from gatekeeper.mail.letter import letter, letter_bytes
from gatekeeper.mail.posting import PATIENCE, Post
from gatekeeper.mail.settings import MailBlock

PASSWORD = "correct horse: battery"  # noqa: S105 -- of a server that lives for one test
NOW = datetime.now(UTC)  # noqa: TID251 -- files are as old as the machine says


class Inbox:
    """What the server has taken, and whom it takes nothing from."""

    def __init__(self, refuses=()):
        self.messages = []
        self.recipients = []
        self.secure = []
        self.refuses = refuses

    async def handle_RCPT(self, _server, _session, envelope, address, _options):  # noqa: N802
        if address in self.refuses:
            return "550 no such person here"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, _session, envelope):  # noqa: N802
        self.messages.append(message_from_bytes(envelope.content, policy=WIRE))
        self.recipients.append(envelope.rcpt_tos)
        self.secure.append(isinstance(server.transport.get_extra_info("ssl_object"), ssl.SSLObject))
        return "250 taken"


def logs_in(_server, _session, _envelope, _mechanism, data):
    good = isinstance(data, LoginPassword) and data.password.decode() == PASSWORD
    return AuthResult(success=good and data.login == b"gate", handled=False)


@pytest.fixture(scope="session")
def certificate(tmp_path_factory):
    """A certificate of our own for localhost, as a small server has one."""
    if shutil.which("openssl") is None:
        pytest.skip("needs openssl, which makes the certificate of the test's mail server")
    folder = tmp_path_factory.mktemp("certificate")
    key, cert = folder / "key.pem", folder / "cert.pem"
    words = "req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=localhost -addext"
    subprocess.run(  # noqa: S603
        ["openssl", *words.split(), "subjectAltName=DNS:localhost", "-keyout", key, "-out", cert],  # noqa: S607
        check=True,
        capture_output=True,
    )
    return cert, key


def context_of(certificate):
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(*certificate)
    return context


def free_port():
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextmanager
def server(inbox, *, certificate=None, tls=False, login=False):
    """A mail server for as long as the block lasts; yields its port."""
    context = context_of(certificate) if certificate else None
    rules = {"authenticator": logs_in, "auth_required": True} if login else {}

    class Server(Controller):
        def factory(self):
            start = None if tls else context
            return SMTP(
                self.handler, tls_context=start, require_starttls=bool(start), **rules,
                auth_require_tls=bool(context), enable_SMTPUTF8=True,
            )  # fmt: skip

    controller = Server(
        inbox, hostname="127.0.0.1", port=free_port(), ssl_context=context if tls else None
    )
    controller.start()
    try:
        yield controller.port
    finally:
        controller.stop()


def settings(port, **changes):
    values = {
        "server": "localhost",
        "port": str(port),
        "security": "none",
        "sender": "gate@plates.example",
        "recipients": ["lead@plates.example", "second@plates.example"],
    }
    return MailBlock.model_validate({**values, **changes})


@pytest.fixture
def post(tmp_path):
    made = Post(tmp_path / "letters", tmp_path, Disk())
    made.put("digest-2026-11-25", content())
    return made


def content(key="k1"):
    message = letter(
        settings(25), subject="1 held", text="± plain\n", html="<p>±</p>", at=NOW, key=key
    )
    return letter_bytes(message)


def password_file(tmp_path, text=PASSWORD, mode=0o600):
    path = tmp_path / "password"
    path.write_text(f"{text}\n")
    path.chmod(mode)
    return "password"


def test_a_letter_arrives_whole_and_is_gone_from_the_folder(post):
    inbox = Inbox()
    with server(inbox) as port:
        posted = post.send(settings(port), NOW)
    assert posted.sent == 1
    assert post.waiting() == []
    (message,) = inbox.messages
    assert message["Subject"] == "1 held"
    assert next(message.iter_parts()).get_content().replace("\r\n", "\n") == "± plain\n"
    assert inbox.recipients == [["lead@plates.example", "second@plates.example"]]


def test_it_is_sent_through_starttls_after_a_login(post, tmp_path, certificate):
    inbox = Inbox()
    with server(inbox, certificate=certificate, login=True) as port:
        post.send(
            settings(
                port,
                security="starttls",
                user="gate",
                password_file=password_file(tmp_path),
                ca_file=str(certificate[0]),
            ),
            NOW,
        )
    assert len(inbox.messages) == 1
    assert inbox.secure == [True]


def test_it_is_sent_through_tls_from_the_first_byte(post, tmp_path, certificate):
    inbox = Inbox()
    with server(inbox, certificate=certificate, tls=True) as port:
        post.send(settings(port, security="tls", ca_file=str(certificate[0])), NOW)
    assert inbox.secure == [True]
    assert tmp_path.is_dir()


def refused(post, wanted):
    with pytest.raises(RoomError) as error:
        post.send(wanted, NOW)
    assert len(post.waiting()) == 1, "what is not sent waits"
    return error.value.what


def test_a_wrong_password_is_told_without_showing_it(post, tmp_path, certificate):
    inbox = Inbox()
    with server(inbox, certificate=certificate, login=True) as port:
        says = refused(
            post,
            settings(
                port,
                security="starttls",
                user="gate",
                password_file=password_file(tmp_path, "wrong"),
                ca_file=str(certificate[0]),
            ),
        )
    assert "refuses the login" in says
    assert "wrong" not in says
    assert inbox.messages == []


def test_a_password_that_a_login_cannot_carry_is_told(post, tmp_path, certificate):
    with server(Inbox(), certificate=certificate, login=True) as port:
        says = refused(
            post,
            settings(
                port,
                security="starttls",
                user="gate",
                password_file=password_file(tmp_path, "pferd-grün"),
                ca_file=str(certificate[0]),
            ),
        )
    assert "letters that a login cannot carry" in says
    assert "pferd" not in says


def test_a_password_that_others_may_read_is_not_used(post, tmp_path, certificate):
    inbox = Inbox()
    with server(inbox, certificate=certificate, login=True) as port:
        says = refused(
            post,
            settings(
                port,
                security="starttls",
                user="gate",
                password_file=password_file(tmp_path, mode=0o644),
                ca_file=str(certificate[0]),
            ),
        )
    assert "others than the daemon's user may read the password" in says
    assert inbox.messages == []


def test_a_server_without_starttls_gets_nothing_in_the_open(post):
    inbox = Inbox()
    with server(inbox) as port:
        says = refused(post, settings(port, security="starttls"))
    assert "STARTTLS" in says
    assert inbox.messages == []


def test_a_certificate_that_nobody_vouches_for_is_not_trusted(post, certificate):
    inbox = Inbox()
    with server(inbox, certificate=certificate) as port:
        says = refused(post, settings(port, security="starttls"))
    assert "certificate" in says
    assert inbox.messages == []


def test_a_server_that_is_away_leaves_the_letter_waiting(post):
    assert "cannot be sent through localhost" in refused(post, settings(free_port()))


def test_recipients_that_are_refused_are_named(post):
    inbox = Inbox(refuses=("lead@plates.example", "second@plates.example"))
    with server(inbox) as port:
        assert "lead@plates.example" in refused(post, settings(port))


def test_letters_are_sent_in_the_order_in_which_they_were_written(post):
    post.put("digest-2026-11-26", content("k2"))
    inbox = Inbox()
    with server(inbox) as port:
        assert post.send(settings(port), NOW).sent == 2
    assert [message["Message-ID"] for message in inbox.messages] == [
        "<k1@plates.example>",
        "<k2@plates.example>",
    ]


def test_old_news_is_put_aside_and_named(post, tmp_path):
    path = tmp_path / "letters/digest-2026-11-25.eml"
    old = (NOW - PATIENCE - timedelta(hours=1)).timestamp()
    os.utime(path, (old, old))
    inbox = Inbox()
    with server(inbox) as port:
        posted = post.send(settings(port), NOW)
    assert (posted.sent, posted.aside) == (0, ("digest-2026-11-25.eml",))
    assert post.waiting() == []
    assert path.with_name("digest-2026-11-25.eml.unsent").exists()


def test_the_same_letter_put_twice_is_one(post):
    post.put("digest-2026-11-25", content())
    assert post.waiting() == ["digest-2026-11-25.eml"]


def test_with_nothing_to_send_nobody_is_spoken_to(tmp_path):
    assert Post(tmp_path / "none", tmp_path, Disk()).send(settings(1), NOW).sent == 0
