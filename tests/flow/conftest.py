"""A plate room in a temporary folder, the real commands, and a sheet to change one line of."""

from __future__ import annotations

import html
import io
import json
import os
import signal
import subprocess
import sys
import time
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from pathlib import Path  # noqa: TC003 -- the dataclass below asks for it
from unittest.mock import patch

import pytest

from gatekeeper.cli.base import run
from gatekeeper.cli.entry import gatekeeper

# Readings of our own invention: a sound negative under the rules of the example site.
HEAD = {
    "job": "1041",
    "customer": "Quillmark Cartons",
    "workflow": "liquid-plate",
    "separation": "black",
    "printer": "P1",
    "film lot": "M5-0317",
    "meter": "T-04",
    "operator": "JV",
    "printed": "2026-11-20 09:40",
    "measured": "2026-11-20 10:05",
    "zeroed on": "clear",
    "ruling": "65 lpi",
    "resolution": "1440 dpi",
    "cleaned": "yes",
}
ROWS = (
    "clear,,0.00,,,left",
    "solid,,2.91,,,left",
    "solid,,2.88,,,centre",
    "solid,,2.90,,,right",
    "tint,50,,50.8,,centre",
)


def sheet(rows=ROWS, **changes) -> str:
    """Return a typed sheet; a change to None leaves its line out, `film_lot` is `film lot`."""
    head = HEAD | {name.replace("_", " "): value for name, value in changes.items()}
    lines = [f"{name},{value}" for name, value in head.items() if value is not None]
    return "\n".join([*lines, "", "patch,nominal,density,dot,length,where", *rows]) + "\n"


@dataclass(frozen=True)
class Said:
    """What a command printed and its exit status."""

    code: int
    stdout: str
    stderr: str


@dataclass
class Room:
    """A site that `gatekeeper init` laid out."""

    root: Path
    environment: dict[str, str] = field(default_factory=dict)

    def drop(self, name: str, text: str, workflow: str = "liquid-plate") -> Path:
        path = self.root / "drop" / workflow / name
        path.write_text(text)
        return path

    def call(self, *words: str, expect: int | None = 0) -> Said:
        """Run a command as the program does, in this process: a new one each time would be slow."""
        out, err = io.StringIO(), io.StringIO()
        with (
            patch.dict(os.environ, self.environment),
            redirect_stdout(out),
            redirect_stderr(err),
        ):
            code = run(gatekeeper, list(words))
        done = Said(code, out.getvalue(), err.getvalue())
        assert expect is None or done.code == expect, done.stdout + done.stderr
        return done

    def sweep(self, expect: int | None = 0) -> Said:
        return self.call("sweep", "--settle", "0", "--site", str(self.root), expect=expect)

    def present(self) -> dict:
        """What the daemon told its screens last."""
        return json.loads((self.root / "state" / "now.json").read_bytes())

    def alarms(self) -> str:
        """What the daemon says is wrong, on one line."""
        return " | ".join(self.present()["alarms"])

    def page(self) -> str:
        """What the page shows, empty before there is one."""
        page = self.root / "state" / "page" / "index.html"
        return html.unescape(page.read_text()) if page.exists() else ""

    def folder(self, job: str, workflow: str = "liquid-plate") -> Path:
        found = [
            self.root / state / workflow / job
            for state in ("approved", "held")
            if (self.root / state / workflow / job).is_dir()
        ]
        assert len(found) == 1, f"{job} stands in {found}"
        return found[0]

    def verdict(self, job: str, workflow: str = "liquid-plate") -> dict:
        return json.loads((self.folder(job, workflow) / "verdict.json").read_bytes())

    def decision(self, job: str, workflow: str = "liquid-plate") -> str:
        folder = self.folder(job, workflow)
        decision = self.verdict(job, workflow)["decision"]
        assert folder.parent.parent.name == decision, "the folder and its verdict disagree"
        return decision

    def holds(self, job: str, workflow: str = "liquid-plate") -> list[str]:
        return [
            finding["rule"]
            for finding in self.verdict(job, workflow)["findings"]
            if finding["outcome"] in {"hold", "not judged"}
        ]

    def jobs_on_disk(self) -> list[str]:
        return sorted(
            f"{state}/{folder.parent.name}/{folder.name}"
            for state in ("approved", "held")
            for folder in (self.root / state).glob("[!.]*/*")
        )

    def work_in_progress(self) -> list[str]:
        """Everything below the folders of work but the marks: nothing may stay there."""
        return sorted(
            str(path.relative_to(self.root))
            for place in ("drop", "approved", "held")
            for folder in (self.root / place).rglob(".gatekeeper")
            for path in folder.rglob("*")
            if path.name != "site-id" and not (path.is_dir() and path.parent == folder)
        )

    @contextmanager
    def daemon(self, *prefix):
        """The real daemon for as long as the block lasts; it must end by itself on SIGTERM.

        `prefix` is a command that becomes the daemon in the end, such as `setpriv`.
        """
        with (self.root.parent / "daemon.log").open("w+") as log:
            process = subprocess.Popen(
                [*prefix, sys.executable, "-m", "gatekeeper", "--site", str(self.root), "run"],
                stderr=log,
                stdout=log,
                env=os.environ | self.environment,
            )
            try:
                wait_for(lambda: (self.root / "state" / "now.json").exists() or process.poll())
                yield process
            finally:
                if process.poll() is None:
                    process.send_signal(signal.SIGTERM)
                    process.wait(timeout=20)
            log.seek(0)
            text = log.read()
            assert "Traceback" not in text, text


def wait_for(is_so, longest_s: float = 45.0):
    """Wait until something is so; the only place where a flow test lets time pass."""
    deadline = time.monotonic() + longest_s
    while time.monotonic() < deadline:
        if found := is_so():
            return found
        time.sleep(0.02)
    raise AssertionError(f"not so within {longest_s} s")


@pytest.fixture
def room(tmp_path) -> Room:
    """A site laid out by the command itself, settling fast enough for a test."""
    root = tmp_path / "site"
    made = Room(root)
    made.call("init", str(root))
    settings = root / "site.yaml"
    text = settings.read_text()
    for old, new in (("settle_s: 2.0", "settle_s: 0.4"), ("rescan_s: 15", "rescan_s: 1")):
        assert old in text
        text = text.replace(old, new)
    settings.write_text(text + "unended_settle_s: 0.8\n")
    return made


@pytest.fixture(name="sheet")
def sheet_fixture():
    """The writer of sheets."""
    return sheet


@pytest.fixture(name="wait_for")
def wait_for_fixture():
    """The one that lets time pass."""
    return wait_for


@pytest.fixture
def server_url(postgres_server):
    """A place of its own on the server, which is at work again for the next test."""
    yield postgres_server.url(postgres_server.new_place())
    if postgres_server.process is None:
        postgres_server.start()
