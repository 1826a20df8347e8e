"""Progress of long work: shown to a person, never to a machine."""

import io

import pytest
from rich.console import Console

from gatekeeper.show.progress import progress


def shown(*, is_terminal):
    file = io.StringIO()
    console = Console(file=file, force_terminal=is_terminal, width=80, color_system=None)
    with progress("verdicts told", console) as told:
        told(512, 2048)
    return file.getvalue()


def test_a_terminal_is_told_how_far_the_work_is():
    assert "verdicts told" in shown(is_terminal=True)
    assert "512/2048" in shown(is_terminal=True)


def test_a_pipe_gets_nothing():
    assert shown(is_terminal=False) == ""


def test_work_that_fails_leaves_the_terminal_clean():
    file = io.StringIO()
    console = Console(file=file, force_terminal=True, width=80)
    with pytest.raises(ValueError, match="broke"), progress("jobs", console):
        raise ValueError("broke")
    assert file.getvalue().endswith(("\x1b[2K", "\x1b[?25h")) or "\x1b[?25h" in file.getvalue()
