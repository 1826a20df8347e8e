"""What a shell and `man` are told of the commands is what the commands are."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest

from gatekeeper.cli.completing import SHELLS
from gatekeeper.cli.entry import gatekeeper
from gatekeeper.cli.manual_page import manual_page

BIN = Path(sys.executable).parent


def commands(command=gatekeeper, path="gatekeeper"):
    """Return every command that does something, by its whole path."""
    if not isinstance(command, click.Group):
        return {path: command}
    return {
        name: found
        for inner in command.commands.values()
        for name, found in commands(inner, f"{path} {inner.name}").items()
    }


def completed(shell, *words):
    """Ask the program as the shell's script does: the last word is the one begun."""
    asked = {"COMP_WORDS": " ".join(words), "COMP_CWORD": str(len(words) - 1)}
    if shell == "fish":
        asked["COMP_CWORD"] = words[-1]
    done = subprocess.run(
        [BIN / "gatekeeper"],
        env=os.environ | asked | {"_GATEKEEPER_COMPLETE": f"{shell}_complete"},
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout


@pytest.mark.parametrize("shell", SHELLS)
def test_a_word_begun_is_completed(shell):
    assert "doctor" in completed(shell, "gatekeeper", "doc")
    assert "--deep" in completed(shell, "gatekeeper", "doctor", "--")


@pytest.mark.parametrize("shell", SHELLS)
def test_the_script_of_each_shell_asks_the_program(room, shell):
    script = room.call("completion", shell).stdout
    assert f"_GATEKEEPER_COMPLETE={shell}_complete" in script


@pytest.mark.parametrize("shell", SHELLS)
def test_each_script_is_one_that_its_shell_takes(room, tmp_path, shell):
    if not shutil.which(shell):
        pytest.skip(f"{shell} is not there")
    script = tmp_path / "script"
    script.write_text(room.call("completion", shell).stdout)
    subprocess.run([shell, "-n", script], check=True)


@pytest.mark.skipif(not shutil.which("bash"), reason="bash is not there")
def test_bash_completes_a_line(tmp_path):
    script = tmp_path / "script"
    lines = (
        'eval "$(gatekeeper completion bash)"',
        "COMP_WORDS=(gatekeeper serv) COMP_CWORD=1",
        "_gatekeeper_completion gatekeeper",
        'echo "${COMPREPLY[@]}"',
    )
    script.write_text("\n".join(lines))
    environment = os.environ | {"PATH": f"{BIN}:{os.environ['PATH']}"}
    done = subprocess.run(
        ["bash", script], env=environment, capture_output=True, text=True, check=True
    )
    assert (done.stdout.split(), done.stderr) == (["service"], "")


def test_a_shell_that_is_none_is_refused(room):
    assert "bash" in room.call("completion", "dos", expect=2).stderr


# -- the manual page ------------------------------------------------------------------------------


def test_the_manual_names_every_command_and_every_option(room):
    page = room.call("manual").stdout.replace("\\-", "-")
    for path, command in commands().items():
        assert f"\n.SS {path}\n" in page
        section = page.split(f"\n.SS {path}\n")[1].split("\n.S")[0]
        for parameter in command.params:
            if isinstance(parameter, click.Option) and not parameter.hidden:
                assert all(name in section for name in parameter.opts), (path, parameter.opts)


def test_every_command_and_option_says_what_it_is_for():
    for path, command in commands().items():
        assert command.help, path
        options = [entry for entry in command.params if isinstance(entry, click.Option)]
        assert [entry.name for entry in options if not entry.help] == [], path


@pytest.mark.skipif(not shutil.which("groff"), reason="groff is not there: apt-get install groff")
def test_the_manual_is_a_page_that_man_takes_without_a_word(room):
    done = subprocess.run(
        ["groff", "-man", "-ww", "-z", "-Tutf8"],
        input=room.call("manual").stdout,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_words_that_mean_something_to_roff_are_shown_as_they_are():
    @click.command("odd")
    @click.option("--path", help=r"Such as C:\plates.")
    def odd(path):
        """Say what it does.

        .TH is no command here, nor is 'so.
        'quoted at the start
        """

    group = click.Group("gatekeeper", commands={"odd": odd}, help="Judge.")
    page = manual_page(group, "gatekeeper", "0")
    assert "\n\\&.TH is no command here" in page
    assert "\n\\&'quoted" in page
    assert r"C:\eplates" in page
    assert len(re.findall(r"^\.TH", page, re.MULTILINE)) == 1
