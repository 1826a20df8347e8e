from datetime import UTC, datetime
from email import message_from_bytes
from email.policy import SMTP

import pytest

from gatekeeper.errors import RulesError
from gatekeeper.mail.letter import letter, letter_bytes
from gatekeeper.mail.settings import MailBlock
from gatekeeper.site import site_of

AT = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
SETTINGS = MailBlock.model_validate(
    {
        "server": "mail.example",
        "sender": "gate@plates.example",
        "recipients": ["lead@plates.example", "second@plates.example"],
    }
)


def made(**changes):
    values = {"subject": "all quiet", "text": "text", "html": "<p>html</p>", "at": AT, "key": "k1"}
    message = letter(SETTINGS, **{**values, **changes})
    return message_from_bytes(letter_bytes(message), policy=SMTP)


def test_a_letter_has_text_first_and_html_beside_it():
    message = made(text="49 ± 1 %\n", html="<p>49 ± 1 %</p>")
    plain, html = message.iter_parts()
    assert (plain.get_content_type(), html.get_content_type()) == ("text/plain", "text/html")
    assert plain.get_content().splitlines() == ["49 ± 1 %"]
    assert "49 ± 1 %" in html.get_content()


def test_a_letter_says_whose_it_is_and_that_no_machine_need_answer():
    message = made(key="digest-2026-11-25-site")
    assert message["From"] == "gate@plates.example"
    assert message["To"] == "lead@plates.example, second@plates.example"
    assert message["Message-ID"] == "<digest-2026-11-25-site@plates.example>"
    assert message["Auto-Submitted"] == "auto-generated"
    assert message["Date"].datetime == AT


def test_a_room_cannot_smuggle_a_header_in_by_its_name():
    message = made(subject="Room\r\nBcc: thief@example.org")
    assert message["Bcc"] is None
    assert message["Subject"] == "Room Bcc: thief@example.org"


def site_with(mail):
    site_of(__import__("pathlib").Path("/nowhere"), f"site: Room\nmail:\n{mail}".encode())


WHOLE = "  server: mail.example\n  sender: a@b.example\n  recipients: [c@d.example]\n"


@pytest.mark.parametrize(
    ("mail", "says"),
    [
        ("  server: mail.example\n", 'the key "sender" is missing'),
        (WHOLE.replace("a@b.example", "nobody"), '"nobody" is not a mail address'),
        (WHOLE.replace("[c@d.example]", "[c@d.example, x]"), '"x" is not a mail address'),
        (WHOLE + "  security: ssl\n", "not one of the choices"),
        (WHOLE + "  port: 0\n", "port"),
        (WHOLE + "  user: gate\n", "both `user` and `password_file`"),
        (WHOLE + "  password: secret\n", 'the key "password" is not known'),
        (WHOLE + "  security: none\n  user: g\n  password_file: p\n", "in the open"),
    ],
)
def test_settings_that_cannot_work_are_refused_with_the_reason(mail, says):
    with pytest.raises(RulesError, match=says):
        site_with(mail)


def test_a_server_on_the_same_machine_may_be_spoken_to_in_the_open():
    own = WHOLE.replace("mail.example", "localhost")
    site_with(own + "  security: none\n  user: g\n  password_file: p\n")
