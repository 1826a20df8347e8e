"""Every command and file that a README shows is one that there is, and its site.yaml loads."""

import re
import shlex
import shutil
import subprocess
from pathlib import Path

import click
import pytest

from gatekeeper.cli.entry import gatekeeper
from gatekeeper.site import site_of

ROOT = Path(__file__).parents[2]
READMES = ["README.md", "config/README.md", "systemd/README.md", "examples/README.md"]

PROGRAM = re.compile(r"(?:/opt/gatekeeper/bin/|\.venv/bin/)?gatekeeper")


def text_of(name):
    return (ROOT / name).read_text(encoding="utf-8")


def commands_in(text):
    """Return the calls of the program: lines of their own, and those in running text."""
    inline = re.findall(r"`(gatekeeper [^`]+)`", text)
    lines = re.findall(r"^ {4,}((?:\S*/)?gatekeeper .+)$", text, re.MULTILINE)
    # Behind a wide gap a line of its own says what the command does.
    return [re.split(r" {3,}", line)[0] for line in (*inline, *lines)]


def fault_of(line):
    """Return why the program would not take a call, "" where it would."""
    words = [word for word in shlex.split(line) if word != "…"]
    assert PROGRAM.fullmatch(words[0]), line
    command, known = gatekeeper, options_of(gatekeeper)
    for word in words[1:]:
        if word.startswith("-"):
            if word.split("=")[0] not in known:
                return f"{word} is no option of {command.name}"
        elif isinstance(command, click.Group) and word in command.commands:
            command = command.commands[word]
            known |= options_of(command)
    if isinstance(command, click.Group) and words[1:] and command is gatekeeper:
        return f"{line} names no command"
    return ""


def options_of(command):
    named = {name for entry in command.params for name in (*entry.opts, *entry.secondary_opts)}
    return named | {"--help", "-h"}


CALLS = [(name, line) for name in READMES for line in commands_in(text_of(name))]


def test_there_are_calls_to_check_in_each_that_shows_some():
    assert {name for name, _ in CALLS} == set(READMES)
    assert len(CALLS) > 30


@pytest.mark.parametrize(("name", "line"), CALLS, ids=[f"{name}: {line}" for name, line in CALLS])
def test_a_call_is_one_that_the_program_takes(name, line):
    assert fault_of(line) == "", name


def test_a_call_that_is_none_would_be_found():
    assert fault_of("gatekeeper doktor --site DIR")
    assert fault_of("gatekeeper doctor --deeep")
    assert fault_of("gatekeeper service install --benk x")
    assert fault_of("gatekeeper service install --bench x") == ""


@pytest.mark.parametrize("name", READMES)
def test_every_file_that_is_linked_to_is_there(name):
    here = (ROOT / name).parent
    for target in re.findall(r"\]\(([^)#]+)\)", text_of(name)):
        assert (here / target).exists(), target


def test_every_file_that_the_installers_guide_tables_is_there_and_none_is_left_out():
    table = text_of("systemd/README.md").split("| file | is |")[1].split("\n\n")[0]
    tabled = set(re.findall(r"`([^`]+\.(?:service|conf))`", table))
    there = {path.name for path in (ROOT / "systemd").iterdir() if path.name != "README.md"}
    assert tabled == there


def test_every_schema_that_the_installers_guide_names_is_there():
    named = re.findall(r"`(gatekeeper/schemas/\S+)`", text_of("systemd/README.md"))
    assert len(named) == 2
    assert all((ROOT / name).is_file() for name in named)


def blocks(language):
    return re.findall(
        rf"^```{language}\n(.*?)^```$", text_of("systemd/README.md"), re.MULTILINE | re.DOTALL
    )


@pytest.mark.parametrize("block", blocks("yaml"))
def test_what_the_installers_guide_writes_into_site_yaml_loads(block):
    assert site_of(Path("/srv/gatekeeper/main"), f"site: Ferrybank\n{block}".encode())


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="needs systemd-analyze")
@pytest.mark.parametrize("block", blocks("ini"))
def test_what_the_installers_guide_writes_into_a_drop_in_is_in_good_order(block, tmp_path):
    unit = text_of("systemd/gatekeeper@.service").replace(
        "/opt/gatekeeper/bin/gatekeeper", "/bin/true"
    )
    place = tmp_path / "gatekeeper@main.service"
    place.write_text(unit.split("[Install]")[0] + block)
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", str(place)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")


def test_the_example_sheets_that_the_walk_through_names_are_there():
    named = re.findall(r"`((?:liquid-plate|sheet-plate|stencil|fine-silver)/[^`]+)`",
                       text_of("examples/README.md"))  # fmt: skip
    assert len(named) > 30
    missing = [name for name in named if not (ROOT / "examples/sheets" / name).exists()]
    assert missing == []


def test_a_share_named_by_the_installers_guide_is_opened_to_the_daemon(room, tmp_path):
    """Follow the guide: folders on a share, `init` again, the service again."""
    share = tmp_path / "mnt/plates"
    share.mkdir(parents=True)
    settings = room.root / "site.yaml"
    (block,) = [found for found in blocks("yaml") if found.startswith("folders:")]
    settings.write_text(settings.read_text() + block.replace("/mnt/plates", str(share)))
    room.call("init", str(room.root))
    assert (share / "drop/.gatekeeper/site-id").exists()
    machine = tmp_path / "machine"
    machine.mkdir()
    room.call(
        "service", "install", "--root", str(machine), "--site", str(room.root),
        "--program", "/opt/gatekeeper/bin/gatekeeper",
    )  # fmt: skip
    drop_in = machine / "etc/systemd/system" / f"gatekeeper@{room.root.name}.service.d/site.conf"
    assert f"ReadWritePaths=-{share}/drop\n" in drop_in.read_text()
