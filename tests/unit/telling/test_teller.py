"""Events are told at least once, in order, and one that cannot be told holds up no others."""

import errno
import json
import os
import select
import sys
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from gatekeeper.filing.disk import Disk
from gatekeeper.telling.command import tell
from gatekeeper.telling.event import arguments_of, event_of, from_bytes, to_bytes
from gatekeeper.telling.settings import TellBlock
from gatekeeper.telling.teller import LONGEST_PAUSE_S, LOOK_S, MOST_TRIES, Teller
from gatekeeper.telling.waiting_list import WaitingList
from gatekeeper.verdict import Decision, Verdict

SCHEMA = json.loads(
    (Path(__file__).parents[3] / "gatekeeper/schemas/event.schema.json").read_bytes()
)


def event(ticket="20261124T140000Z-1", **changes):
    verdict = Verdict(
        ticket=ticket,
        job=changes.get("job", "1044"),
        workflow="liquid-plate",
        customer="Quillmark Cartons",
        decision=Decision.HELD,
        rules_fingerprint="ab12",
        arrived="2026-11-24T14:00:00+00:00",
        program="gatekeeper 0.1.0",
        findings=(),
    )
    folder = Path("/srv/gatekeeper/main/held/liquid-plate/1044")
    return event_of(verdict, folder, site="ferrybank-1", filed="2026-11-24T14:00:01+00:00")


def settings(*words, limit_s="20"):
    return TellBlock(command=list(words), limit_s=limit_s)


@pytest.fixture
def waiting(tmp_path):
    return WaitingList(Disk(), tmp_path / "telling")


# -- the event ------------------------------------------------------------------------------------


def test_event_fits_its_published_schema():
    Draft202012Validator.check_schema(SCHEMA)
    Draft202012Validator(SCHEMA).validate(event())
    assert set(event()) == set(SCHEMA["properties"]) == set(SCHEMA["required"])


def test_event_reads_back_as_it_was_written():
    assert from_bytes(to_bytes(event(job="n\u00e4chste\n9"))) == event(job="n\u00e4chste\n9")
    for other in (b"", b"{", b"[]", b'{"format": "gatekeeper event", "version": 2}'):
        assert from_bytes(other) is None


def test_words_in_braces_become_the_events_own_and_nothing_is_taken_apart():
    odd = event(job='a b"; rm -rf $HOME {decision}\0')
    words = arguments_of(("/bin/x", "--job={job}", "{decision}/{workflow}", "{}", "$HOME"), odd)
    assert words == [
        "/bin/x",
        '--job=a b"; rm -rf $HOME {decision}\N{REPLACEMENT CHARACTER}',
        "held/liquid-plate",
        "{}",
        "$HOME",
    ]


# -- the command ----------------------------------------------------------------------------------


def test_command_gets_its_arguments_and_the_event_on_its_standard_input(tmp_path):
    program = (
        "import sys; open('got', 'wb').write(sys.argv[1].encode() + b'|' + sys.stdin.buffer.read())"
    )
    assert tell(settings(sys.executable, "-c", program, "--job={job}"), event(), tmp_path) == ""
    first, _, rest = (tmp_path / "got").read_bytes().partition(b"|")
    assert (first, from_bytes(rest)) == (b"--job=1044", event())


def test_command_that_fails_says_how_it_ended_and_what_it_said_last(tmp_path):
    program = (
        "import sys; print('x' * 9000); print('the desk\\nis closed', file=sys.stderr); sys.exit(3)"
    )
    said = tell(settings(sys.executable, "-c", program), event(), tmp_path)
    assert said.startswith("it ended with status 3: ")
    assert said.endswith("the desk is closed")
    assert len(said) < 400


def test_command_that_is_not_there_says_so(tmp_path):
    said = tell(settings("/nowhere/tell"), event(), tmp_path)
    assert said == "it cannot be run: No such file or directory"


def test_command_that_hangs_is_ended_with_all_that_it_started(tmp_path):
    program = (
        "import subprocess, sys, time;"
        "child = subprocess.Popen([sys.executable, '-c', 'import time; time.sleep(60)']);"
        "open('child', 'w').write(str(child.pid)); time.sleep(60)"
    )
    said = tell(settings(sys.executable, "-c", program, limit_s="1.5"), event(), tmp_path)
    assert said == "it had not ended after 1.5 s"
    assert _has_ended(int((tmp_path / "child").read_text()))


def _has_ended(process: int) -> bool:
    """Wait for a process that is not our own child: told to end, it may take a moment to."""
    try:
        handle = os.pidfd_open(process)
    except ProcessLookupError:
        return True
    try:
        return bool(select.select([handle], [], [], 10.0)[0])
    finally:
        os.close(handle)


def test_command_is_not_handed_what_systemd_tells_the_daemon(tmp_path, monkeypatch):
    monkeypatch.setenv("NOTIFY_SOCKET", "/run/notify")
    monkeypatch.setenv("KEPT", "yes")
    program = "import os; open('got', 'w').write(' '.join(os.environ))"
    assert tell(settings(sys.executable, "-c", program), event(), tmp_path) == ""
    names = (tmp_path / "got").read_text().split()
    assert "NOTIFY_SOCKET" not in names
    assert "KEPT" in names


# -- the list and its teller ----------------------------------------------------------------------


class Desk:
    """A receiver that is closed for as long as is wished."""

    def __init__(self):
        self.told = []
        self.reason = ""
        self.refuses = set()

    def __call__(self, _settings, event, _here):
        reason = "never" if event["ticket"] in self.refuses else self.reason
        if not reason:
            self.told.append(event["ticket"])
        return reason


@pytest.fixture
def desk():
    return Desk()


@pytest.fixture
def teller(waiting, desk, tmp_path):
    return Teller(settings("/bin/tell"), waiting, tmp_path, desk)


def test_events_are_told_in_the_order_of_their_tickets_and_then_gone(waiting, teller, desk):
    for ticket in ("3", "1", "2"):
        waiting.put(event(ticket))
    assert teller.go() == LOOK_S
    assert desk.told == ["1", "2", "3"]
    assert (waiting.tickets(), teller.trouble) == ([], "")


def test_pauses_grow_while_the_receiver_is_away_and_all_is_told_when_it_is_back(
    waiting, teller, desk
):
    waiting.put(event("1"))
    waiting.put(event("2"))
    desk.reason = "closed"
    pauses = [teller.go() for _ in range(8)]
    assert pauses == [5.0, 15.0, 45.0, 135.0, 405.0, 1215.0, LONGEST_PAUSE_S, LONGEST_PAUSE_S]
    assert teller.trouble == "/bin/tell was not told of 1: closed"
    desk.reason = ""
    teller.go()
    assert (desk.told, teller.trouble) == (["1", "2"], "")


def test_event_that_is_never_taken_is_put_aside_for_the_others(waiting, teller, desk):
    waiting.put(event("1"))
    waiting.put(event("2"))
    desk.refuses = {"1"}
    for _ in range(MOST_TRIES):
        teller.go()
    teller.go()
    assert desk.told == ["2"]
    assert waiting.aside() == ["1"]


def test_damaged_file_is_put_aside_at_once(waiting, teller, desk, tmp_path):
    waiting.put(event("2"))
    (tmp_path / "telling/1").write_bytes(b"{")
    assert teller.go() == 0.0
    teller.go()
    assert (desk.told, waiting.aside()) == (["2"], ["1"])


def test_same_event_laid_in_twice_is_one_and_a_torn_one_is_made_anew(waiting, tmp_path):
    (tmp_path / "telling").mkdir()
    (tmp_path / "telling/1.new").write_bytes(b'{"torn')
    waiting.put(event("1"))
    waiting.put(event("1"))
    assert waiting.tickets() == ["1"]
    assert waiting.event("1") == event("1")


def test_event_is_kept_when_the_program_ends_before_it_was_told(waiting, desk, tmp_path):
    waiting.put(event("1"))
    ended = Teller(settings("/bin/tell"), waiting, tmp_path, desk)
    ended.stop()
    ended.go()
    assert (desk.told, waiting.tickets()) == ([], ["1"])
    Teller(settings("/bin/tell"), waiting, tmp_path, desk).go()
    assert desk.told == ["1"]


def test_disk_that_cannot_be_read_is_told_and_tried_again(desk, tmp_path):
    class Failing(WaitingList):
        is_away = True

        def tickets(self):
            if self.is_away:
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            return super().tickets()

    waiting = Failing(Disk(), tmp_path / "telling")
    waiting.put(event("1"))
    teller = Teller(settings("/bin/tell"), waiting, tmp_path, desk)
    with pytest.raises(OSError, match="Input/output"):
        teller.go()
    waiting.is_away = False
    teller.go()
    assert desk.told == ["1"]
