"""A real PostgreSQL server of our own for the tests: in a temp folder, on a free port, and gone."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from urllib.parse import quote

import pytest

from tests.real_parts import require

OWNER = "owner"
REASON = "no PostgreSQL server (initdb, pg_ctl); it comes with the system's package postgresql"


def _programs() -> Path | None:
    """The newest PostgreSQL programs here: Debian's folders, else what is on the path."""
    versions = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: float(path.parts[4])
    )
    found = versions[-1] if versions else shutil.which("initdb")
    return Path(found).parent if found else None


class Server:
    """One server; `owner` and other roles come in by its socket without a password, or by TCP with.

    Attributes:
        folder: of everything it has, its socket too.
        port: free when it was made.
        durable: whether it syncs; the other way it is quicker, and loses data when it is killed.
    """

    def __init__(self, *, durable: bool = False) -> None:
        programs = _programs()
        require(programs, REASON)
        assert programs is not None
        self._programs = programs
        self.folder = Path(tempfile.mkdtemp(prefix="go-pg-"))  # short: a socket's path is limited
        self.port = _free_port()
        self.durable = durable
        self._as: list[str] = []
        if os.geteuid() == 0:  # root may not run it
            user, group = _nobody()
            os.chown(self.folder, user, group)
            ids = [f"--reuid={user}", f"--regid={group}", "--clear-groups"]
            self._as = ["setpriv", *ids, "--"]
        self._run(
            "initdb", "--no-sync", "--pgdata", str(self.folder / "data"), "--username", OWNER,
            "--auth-local=trust", "--auth-host=scram-sha-256", "--encoding=UTF8",
            "--locale=C.UTF-8",
        )  # fmt: skip
        self.start()

    def start(self) -> None:
        """Start it, and wait until it takes connections."""
        safe = "on" if self.durable else "off"
        options = (
            f"-p {self.port} -k {self.folder} -c listen_addresses=127.0.0.1 -c fsync={safe} "
            f"-c synchronous_commit={safe} -c full_page_writes={safe} -c max_connections=40 "
            f"-c shared_buffers=32MB -c log_statement=all"
        )
        self._control("start", "--log", str(self.folder / "log"), "--options", options)

    def stop(self, mode: str = "fast") -> None:
        """Stop it; "immediate" is as hard as a crash."""
        self._control("stop", "--mode", mode)

    def remove(self) -> None:
        """Stop it and leave nothing."""
        with suppress(subprocess.CalledProcessError):
            self.stop("immediate")
        shutil.rmtree(self.folder, ignore_errors=True)

    def address(self, database: str, role: str = OWNER, *, password: str | None = None) -> str:
        """The store's address: by socket, or with a password by TCP."""
        if password is None:
            return f"postgresql://{role}@/{database}?host={self.folder}&port={self.port}"
        return f"postgresql://{role}:{quote(password, safe='')}@127.0.0.1:{self.port}/{database}"

    def sql(self, *statements: str, database: str = "postgres", role: str = OWNER) -> str:
        """Run statements by PostgreSQL's own client, a stranger to our code; its output."""
        commands = [part for statement in statements for part in ("-c", statement)]
        return self._run(
            "psql", "-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1", "-h", str(self.folder),
            "-p", str(self.port), "-U", role, "-d", database, *commands,
        )  # fmt: skip

    def log(self) -> str:
        """What it has logged."""
        return (self.folder / "log").read_text(encoding="utf-8", errors="replace")

    def _control(self, *arguments: str) -> None:
        data = str(self.folder / "data")
        self._run("pg_ctl", "--wait", "--timeout=60", "--silent", "--pgdata", data, *arguments)

    def _run(self, program: str, *arguments: str) -> str:
        ran = subprocess.run(
            [*self._as, str(self._programs / program), *arguments],
            cwd=self.folder, check=True, capture_output=True, text=True, timeout=120,
            stdin=subprocess.DEVNULL, env={**os.environ, "LC_ALL": "C.UTF-8"},
        )  # fmt: skip
        return ran.stdout


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def _nobody() -> tuple[int, int]:
    """User and group to run it as instead of root: the server's own where the package made them."""
    import pwd  # noqa: PLC0415 - absent on Windows

    for name in ("postgres", "nobody"):
        with suppress(KeyError):
            found = pwd.getpwnam(name)
            return found.pw_uid, found.pw_gid
    pytest.skip("no user but root to run a server as")


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """A server for all tests of a session; it does not sync."""
    made = Server()
    yield made
    made.remove()
