"""A real PostgreSQL for as long as a run of tests: its own folder, its own socket, no network.

Debian keeps the server's programs out of the path; `PG_BIN` names the folder where they lie
elsewhere. As root the server runs as another user, because it refuses root.
"""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from itertools import count
from pathlib import Path

import pytest

BOSS = "boss"
LONGEST_S = 60.0
MEMORY = "/dev/shm"  # noqa: S108 -- where it is, a file system in memory
_USERS = ("postgres", "nobody")

# Nothing here must outlive a power cut, so nothing is flushed: that is the only unreal thing.
SETTINGS = {
    "listen_addresses": "",
    "fsync": "off",
    "full_page_writes": "off",
    "autovacuum": "off",
    "shared_buffers": "32MB",
    "max_connections": "60",
    "max_wal_size": "256MB",
}
LOGIN = f"local all {BOSS} trust\nlocal all all scram-sha-256\n"


def programs() -> Path | None:
    """Return the folder with the server's programs, None where no server is installed."""
    stated = os.environ.get("PG_BIN")
    debian = sorted(
        Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: float(path.parts[-2])
    )
    found = shutil.which("initdb")
    places = (
        [Path(stated)] if stated else [*reversed(debian), *([Path(found).parent] if found else [])]
    )
    return next((place for place in places if (place / "initdb").exists()), None)


class PostgresServer:
    """One server, and as many databases as are asked for."""

    def __init__(self, bin_folder: Path, folder: Path) -> None:
        self.folder = folder
        self._bin = bin_folder
        self._numbers = count(1)
        self._as_user: dict[str, object] = {}
        if os.geteuid() == 0:
            user = next(name for name in _USERS if _exists(name))
            entry = pwd.getpwnam(user)
            os.chown(folder, entry.pw_uid, entry.pw_gid)
            self._as_user = {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}
        self.process: subprocess.Popen | None = None

    def make(self) -> None:
        """Lay the server's files out."""
        words = ["initdb", "--no-sync", "--encoding=UTF8", "--locale=C.UTF-8", f"--username={BOSS}"]
        self._run(*words, "--auth=trust", "-D", str(self._data))
        (self._data / "pg_hba.conf").write_text(LOGIN)

    def start(self) -> None:
        settings = [f"--{name}={value}" for name, value in SETTINGS.items()]
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(  # noqa: S603 -- the distribution's own server
                [self._bin / "postgres", "-D", self._data, "-k", self.folder, *settings],
                stdout=log,
                stderr=log,
                cwd=self.folder,
                **self._as_user,
            )
        deadline = time.monotonic() + LONGEST_S
        while time.monotonic() < deadline and self.process.poll() is None:
            try:
                self.sql("SELECT 1")
            except OSError:
                time.sleep(0.05)  # noqa: TID251 -- a real server is waited for
            else:
                return
        raise AssertionError((self.folder / "log").read_text())

    def stop(self) -> None:
        """End it by its own process id."""
        if self.process is not None:
            self.process.send_signal(signal.SIGQUIT)
            self.process.wait(LONGEST_S)
            self.process = None

    def pause(self) -> None:
        """Freeze every process of the server: lines stay open, and nobody answers."""
        for number in self._family():
            os.kill(number, signal.SIGSTOP)

    def go_on(self) -> None:
        for number in self._family():
            os.kill(number, signal.SIGCONT)

    def sql(self, statement: str, *values, place: str = "public") -> list[tuple]:
        """Do something on the server as its owner."""
        import psycopg  # noqa: PLC0415 -- an extra

        try:
            with psycopg.connect(
                host=str(self.folder),
                user=BOSS,
                dbname="postgres",
                autocommit=True,
                options=f"-csearch_path={place}",
            ) as connection:
                cursor = connection.execute(statement, values or None)
                return cursor.fetchall() if cursor.description else []
        except psycopg.OperationalError as error:
            if self.process is None or error.sqlstate is None:
                raise ConnectionError(str(error)) from error
            raise

    def new_place(self) -> str:
        """Make an empty place for one history; a database for each test would cost 7 MB each."""
        name = f"plates{next(self._numbers)}"
        self.sql(f"CREATE SCHEMA {name}")
        return name

    def url(self, place: str, user: str = BOSS) -> str:
        where = f"host={self.folder}&options=-csearch_path%3D{place}"
        return f"postgresql+psycopg://{user}@/postgres?{where}"

    @property
    def _data(self) -> Path:
        return self.folder / "data"

    def _run(self, program: str, *words: str) -> None:
        done = subprocess.run(  # noqa: S603 -- the distribution's own
            [self._bin / program, *words],
            capture_output=True,
            text=True,
            check=False,
            cwd=self.folder,
            **self._as_user,
        )
        assert done.returncode == 0, done.stdout + done.stderr

    def _family(self) -> list[int]:
        assert self.process
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children")
        return [self.process.pid, *map(int, children.read_text().split())]


def _exists(user: str) -> bool:
    try:
        pwd.getpwnam(user)
    except KeyError:
        return False
    return True


@pytest.fixture(scope="session")
def postgres_server():
    """The server of this run; tests that ask for it are skipped where none is installed."""
    pytest.importorskip("psycopg")
    found = programs()
    if found is None:
        pytest.skip("no PostgreSQL server is installed (Debian: apt-get install postgresql)")
    memory = MEMORY if os.access(MEMORY, os.W_OK) else None
    folder = Path(tempfile.mkdtemp(prefix="gatekeeper-pg-", dir=memory))
    server = PostgresServer(found, folder)
    try:
        server.make()
        server.start()
        yield server
    finally:
        server.stop()
        shutil.rmtree(folder, ignore_errors=True)
